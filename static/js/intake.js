/* A form that keeps itself: what is typed goes to the server's draft 600 ms after the last key, or at once when a choice
   is made. Nothing is ever put into the browser's storage, because the tablet is shared. */
(() => {
  const TYPING_PAUSE_MS = 600;
  const RETRY_MS = [2000, 5000, 10000, 30000];

  function start(form) {
    let timer = 0;
    let change = 0;
    let sent = 0;
    let busy = false;
    let failures = 0;
    let leaving = false;

    const said = form.querySelector('[data-saved]') ?? form.appendChild(document.createElement('p'));
    said.classList.add('saved');
    said.setAttribute('role', 'status');

    const unsent = () => sent < change;

    function tell(words, isUnsent) {
      if (said.textContent !== words) said.textContent = words;
      said.classList.toggle('unsent', isUnsent);
    }

    function content() {
      const body = new URLSearchParams();
      for (const [name, value] of new FormData(form)) if (typeof value === 'string') body.append(name, value);
      return body;
    }

    async function save() {
      clearTimeout(timer);
      if (busy) return false;
      busy = true;
      const saving = change;
      let refused = '';
      try {
        /* A followed redirect to the sign-in page would look like a success: so none is followed. */
        const answer = await fetch(form.dataset.draftUrl, { method: 'POST', body: content(), redirect: 'manual', cache: 'no-store' });
        if (answer.ok) {
          sent = saving;
          failures = 0;
        } else refused = answer.status >= 500 ? 'The studio’s computer does not answer' : 'This page has been closed by the studio';
      } catch {
        refused = 'No connection';
      }
      busy = false;
      if (refused) {
        tell(`${refused}: kept on this page, will be sent.`, true);
        timer = setTimeout(save, RETRY_MS[Math.min(failures, RETRY_MS.length - 1)]);
        failures += 1;
      } else if (unsent()) timer = setTimeout(save, TYPING_PAUSE_MS);
      else tell(`Saved ${new Date().toLocaleTimeString(document.documentElement.lang || [], { hour: '2-digit', minute: '2-digit' })}`, false);
      return !refused;
    }

    function changed(wait) {
      change += 1;
      clearTimeout(timer);
      timer = setTimeout(save, wait);
    }

    form.addEventListener('input', (event) => {
      if (event.target.matches('[type=radio], [type=checkbox], select')) return;
      changed(TYPING_PAUSE_MS);
    });
    form.addEventListener('change', () => changed(0));
    window.addEventListener('online', () => { if (unsent()) save(); });

    /* Without a connection the browser would leave for an error page and lose what stands here. */
    form.addEventListener('submit', async (event) => {
      if (leaving) return;
      if (navigator.onLine && failures === 0) {
        clearTimeout(timer);
        leaving = true;
        return;
      }
      event.preventDefault();
      if (await save()) {
        leaving = true;
        form.requestSubmit(event.submitter ?? undefined);
      }
    });
    window.addEventListener('pageshow', () => { leaving = false; });
    window.addEventListener('beforeunload', (event) => { if (unsent() && !leaving) event.preventDefault(); });
  }

  document.querySelectorAll('form[data-draft-url]').forEach(start);
})();
