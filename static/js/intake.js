/* A form that keeps itself: what is typed goes to the server's draft 600 ms after the last key, or at once when a choice
   is made. Nothing is ever put into the browser's storage, because the tablet is shared.

   A button sends the page only after the server has taken what stands on it: without a connection, with the studio's
   computer down or with a pass that has run out, the page stays and says so. The words stand in the page, translated.
   A form without a draft (data-probe-url: signing) only asks whether the server answers before it goes. */
(() => {
  const TYPING_PAUSE_MS = 600;
  const RETRY_MS = [2000, 5000, 10000, 30000];
  const PATIENCE_MS = 15000;

  function start(form) {
    let timer = 0;
    let change = 0;
    let sent = 0;
    let failures = 0;
    let leaving = false;
    let running = null;

    const said = form.querySelector('[data-saved]');
    const words = said.dataset;
    const unsent = () => sent < change;

    function tell(text, isUnsent) {
      if (said.textContent !== text) said.textContent = text;
      said.classList.toggle('unsent', isUnsent);
      form.toggleAttribute('data-unsent', unsent());
    }

    function content() {
      const body = new URLSearchParams();
      for (const [name, value] of new FormData(form)) if (typeof value === 'string') body.append(name, value);
      return body;
    }

    /* A followed redirect would look like a success: so none is followed. */
    function ask(keepalive) {
      const how = { redirect: 'manual', cache: 'no-store', keepalive };
      if (!keepalive) how.signal = AbortSignal.timeout(PATIENCE_MS);
      if (form.dataset.draftUrl) return fetch(form.dataset.draftUrl, { ...how, method: 'POST', body: content() });
      return fetch(form.dataset.probeUrl, how);
    }

    /* What became of it: 'saved', or the name of the words that say why not. */
    async function sendOnce(keepalive) {
      const saving = change;
      try {
        const answer = await ask(keepalive);
        const seen = answer.headers.get('Evenseam-Seen');
        if (seen !== null && form.elements.seen) form.elements.seen.value = seen;
        if (answer.ok) {
          sent = Math.max(sent, saving);
          return 'saved';
        }
        if (answer.status === 409) return 'elsewhere';
        if (answer.status === 401) return 'pass';
        return answer.status >= 500 ? 'silent' : 'over';
      } catch {
        return 'offline';
      }
    }

    const isPassing = (became) => became === 'offline' || became === 'silent' || became === 'pass';

    function after(became) {
      if (became === 'saved') {
        failures = 0;
        if (unsent()) timer = setTimeout(save, TYPING_PAUSE_MS);
        const time = new Date().toLocaleTimeString(document.documentElement.lang || [], { hour: '2-digit', minute: '2-digit' });
        tell(form.dataset.draftUrl ? words.wordsSaved.replace('{time}', time) : '', false);
        form.dispatchEvent(new Event('client:sent'));
        return;
      }
      /* What has no draft is not sent later by itself: the words ask for the button. */
      const why = form.dataset.draftUrl || !isPassing(became) ? became : 'still';
      tell(words[`words${why[0].toUpperCase()}${why.slice(1)}`], true);
      if (isPassing(became) && form.dataset.draftUrl) {
        timer = setTimeout(save, RETRY_MS[Math.min(failures, RETRY_MS.length - 1)]);
        failures += 1;
      }
    }

    /* One at a time, so that none overtakes another: an answer that is on its way is waited for. Of several that waited
       only the first goes, and takes all along; `always` goes even with nothing new, to learn whether the server is there. */
    async function save({ keepalive = false, always = false } = {}) {
      clearTimeout(timer);
      /* A page that is going away waits for nothing: what stands on it is sent at once, or never. */
      if (keepalive) return sendOnce(true);
      while (running) await running;
      if (!always && !unsent()) return 'saved';
      running = sendOnce(false);
      const became = await running;
      running = null;
      after(became);
      return became;
    }

    function changed(wait) {
      change += 1;
      form.toggleAttribute('data-unsent', true);
      clearTimeout(timer);
      timer = setTimeout(save, wait);
    }

    if (form.dataset.draftUrl) {
      form.addEventListener('input', (event) => {
        if (event.target.matches('[type=radio], [type=checkbox], select')) return;
        changed(TYPING_PAUSE_MS);
      });
      form.addEventListener('change', () => changed(0));
      window.addEventListener('online', () => { if (unsent()) save(); });
      document.addEventListener('client:hide', () => { if (unsent()) save(); });
      document.addEventListener('visibilitychange', () => { if (document.visibilityState === 'hidden' && unsent() && !leaving) save({ keepalive: true }); });
      window.addEventListener('beforeunload', (event) => { if (unsent() && !leaving) event.preventDefault(); });
    }

    let pressed = false;
    form.addEventListener('submit', async (event) => {
      if (leaving) return;
      event.preventDefault();
      if (pressed) return;
      pressed = true;
      const became = await save({ always: true });
      pressed = false;
      /* "Elsewhere" goes on, too: the server's page shows both versions beside each other. */
      if (became !== 'saved' && became !== 'elsewhere') return;
      leaving = true;
      clearTimeout(timer);
      form.requestSubmit(event.submitter ?? undefined);
    });
    window.addEventListener('pageshow', () => { leaving = false; });
  }

  document.querySelectorAll('form[data-draft-url], form[data-probe-url]').forEach(start);
})();
