/* A client's page can be hidden at once, and hides by itself when nobody has touched it for long.

   Hiding covers the page in place, so that it works without a connection and loses nothing that was typed. At least two
   minutes before it would happen by itself the page asks, and one touch or key goes on (WCAG 2.2, 2.2.1). On the
   studio's tablet the time then leads to the neutral screen, as soon as everything typed has been sent. */
(() => {
  const WARN_MS = 2 * 60 * 1000;
  const paused = document.querySelector('[data-paused]');
  const asking = document.querySelector('[data-still-there]');
  const title = document.title;
  let touched = Date.now();

  function hide() {
    if (!paused || paused.open) return;
    if (asking?.open) asking.close();
    document.title = paused.dataset.title;
    document.body.classList.add('is-paused');
    paused.showModal();
    document.dispatchEvent(new Event('client:hide'));
  }

  function resume() {
    document.body.classList.remove('is-paused');
    document.title = title;
    touched = Date.now();
  }

  if (paused) {
    document.querySelectorAll('[data-pause]').forEach((control) => control.addEventListener('click', (event) => {
      event.preventDefault();
      hide();
    }));
    paused.querySelector('[data-resume]').addEventListener('click', () => paused.close());
    /* Escape hides and does not show again: a second press in haste must not uncover the page. */
    paused.addEventListener('cancel', (event) => event.preventDefault());
    paused.addEventListener('keydown', (event) => { if (event.key === 'Escape') event.preventDefault(); });
    paused.addEventListener('close', resume);
    document.addEventListener('keydown', (event) => {
      if (event.key !== 'Escape' || event.defaultPrevented || event.isComposing || paused.open || asking?.open) return;
      if (!document.querySelector('[data-pause]')) return;
      event.preventDefault();
      hide();
    });
  }

  if (paused && asking && document.querySelector('[data-pause]')) {
    /* Never less than two minutes to answer, however short a time was set. */
    const warnAfter = Math.max(Number(asking.dataset.idleMinutes) * 60 * 1000 - WARN_MS, 60 * 1000);

    function leave() {
      hide();
      const to = asking.dataset.idleTo;
      if (!to) return;
      const go = () => location.replace(to);
      const unsent = document.querySelector('form[data-unsent]');
      if (unsent) unsent.addEventListener('client:sent', go, { once: true });
      else go();
    }

    function look() {
      const idle = Date.now() - touched;
      if (idle >= warnAfter + WARN_MS) {
        if (!paused.open || asking.dataset.idleTo) leave();
      } else if (idle >= warnAfter && !asking.open && !paused.open) asking.showModal();
    }

    function touch() {
      if (document.body.classList.contains('is-paused')) return;
      touched = Date.now();
      if (asking.open) asking.close();
    }

    for (const kind of ['pointerdown', 'keydown', 'input']) document.addEventListener(kind, touch, { passive: true, capture: true });
    document.addEventListener('scroll', () => { if (!asking.open) touch(); }, { passive: true, capture: true });
    asking.querySelector('[data-stay]').addEventListener('click', touch);
    setInterval(look, 5000);
    /* Timers stand still while a device sleeps: what should have been hidden is hidden before it is seen. */
    document.addEventListener('visibilitychange', look);
  }

  document.querySelectorAll('[data-print]').forEach((button) => {
    button.hidden = false;
    button.addEventListener('click', () => window.print());
  });
})();
