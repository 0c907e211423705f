/* A tablet in a client's hands (<html data-handed-over>): nothing that was on the screen before comes back.

   Pages that Back brings up from the browser's memory are put out of sight as they go there, and asked for anew as they
   come back: by then another person may hold the device. Other tabs hear when the tablet is handed over, and when its
   neutral screen stands: what they show belongs to whoever was there before. Nothing is stored. */
(() => {
  const root = document.documentElement;
  const isHandedOver = root.hasAttribute('data-handed-over');
  const isNeutral = document.body.classList.contains('neutral');

  addEventListener('pagehide', (event) => { if (event.persisted) root.hidden = true; });
  addEventListener('pageshow', (event) => { if (event.persisted) location.reload(); });

  if ('BroadcastChannel' in window) {
    const tabs = new BroadcastChannel('evenseam-tablet');
    tabs.addEventListener('message', ({ data }) => {
      const isOld = data === 'neutral' ? !isNeutral : !isHandedOver;
      if (!isOld) return;
      root.hidden = true;
      /* The neutral screen closes the form that is open, so a tab of the studio's own goes blank instead. */
      location.replace(data === 'neutral' ? '/tablet' : 'about:blank');
    });
    if (isHandedOver) tabs.postMessage(isNeutral ? 'neutral' : 'form');
  }

  /* Back from the first page of a form must not land here, where the form would be closed: it asks at the first page,
     which leads to the form while it is open and here once it is over. */
  if (isNeutral) addEventListener('submit', () => history.replaceState(null, '', '/'));

  /* The last page of a form goes by itself when nobody has touched it for a while; it says so, and a touch keeps it. */
  const end = document.querySelector('form[data-tablet-end]');
  if (end) {
    let touched = Date.now();
    for (const kind of ['pointerdown', 'keydown', 'scroll']) {
      document.addEventListener(kind, () => { touched = Date.now(); }, { passive: true, capture: true });
    }
    setInterval(() => { if (Date.now() - touched > Number(end.dataset.tabletEnd) * 1000) end.submit(); }, 1000);
  }
})();
