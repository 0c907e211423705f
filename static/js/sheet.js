/* The sheet at the chair: every tap goes to the server at once under an id made here, so that sending twice stores once.
   Without a connection the taps wait in this page, in order, and say so. Nothing is put into the browser's storage. */
(() => {
  const RETRY_MS = [1000, 2000, 5000, 10000, 30000];

  /* randomUUID exists only on secure pages; a studio may run this on its own network without one. */
  function newId() {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('');
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
  }

  const clockWords = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, '0')}`;

  function start(form) {
    const queue = [];
    const refused = [];
    let busy = false;
    let failures = 0;
    let timer = 0;
    const saids = [...document.querySelectorAll('[data-saved]')];
    saids.forEach((said) => said.setAttribute('role', 'status'));

    function tell(words, isUnsent) {
      for (const said of saids) {
        if (said.textContent !== words) said.textContent = words;
        said.classList.toggle('unsent', isUnsent);
      }
    }

    function tellState(reason) {
      const entries = queue.length === 1 ? '1 entry is' : `${queue.length} entries are`;
      if (reason && queue.length) return tell(`${reason}: ${entries} kept on this page and will be sent in order. Do not close it.`, true);
      if (refused.length) return tell(`Not taken: ${refused.join(', ')}. Reload the page to see what is on file.`, true);
      if (!queue.length) tell(`Saved ${new Date().toLocaleTimeString(document.documentElement.lang || [], { hour: '2-digit', minute: '2-digit' })}`, false);
    }

    /* One at a time and in order. What the server refuses for good is named and dropped, so that the rest can follow. */
    async function send() {
      clearTimeout(timer);
      if (busy) return;
      busy = true;
      let reason = '';
      while (queue.length && !reason) {
        try {
          const answer = await fetch(form.dataset.tapUrl, { method: 'POST', body: new URLSearchParams(queue[0].body), redirect: 'manual', cache: 'no-store', keepalive: true });
          if (answer.ok) queue.shift();
          else if ([400, 404, 409, 410, 413, 422].includes(answer.status)) refused.push(queue.shift().words);
          else if (answer.type === 'opaqueredirect' || answer.status === 401 || answer.status === 403) reason = 'You are signed out';
          else reason = 'The studio’s computer does not answer';
        } catch {
          reason = 'No connection';
        }
      }
      busy = false;
      tellState(reason);
      if (reason) {
        timer = setTimeout(send, RETRY_MS[Math.min(failures, RETRY_MS.length - 1)]);
        failures += 1;
      } else failures = 0;
    }

    function tap(name, value, on, words) {
      queue.push({ words, body: { tap_id: newId(), name, value, on: on ? '1' : '0', tapped_at: new Date().toISOString() } });
      send();
    }

    const wordsOf = (control) => (control.closest('label')?.querySelector('.tap-words') ?? control).textContent?.trim() || control.name;

    form.addEventListener('change', (event) => {
      const control = event.target;
      if (!control.name || control.type === 'file' || control.closest('[data-no-tap]')) return;
      const isTick = control.type === 'checkbox';
      tap(control.name, control.value, isTick ? control.checked : true, wordsOf(control));
    });
    form.addEventListener('click', (event) => {
      const pressed = event.target.closest('button[data-tap]');
      if (!pressed) return;
      const toggles = pressed.hasAttribute('aria-pressed');
      const on = toggles ? pressed.getAttribute('aria-pressed') !== 'true' : true;
      if (toggles) pressed.setAttribute('aria-pressed', String(on));
      tap(pressed.name, pressed.value, on, pressed.textContent.trim());
    });

    startNeedle(form, tap);

    window.addEventListener('online', send);
    form.addEventListener('submit', async (event) => {
      if (!queue.length) return;
      event.preventDefault();
      await send();
      if (!queue.length) form.requestSubmit(event.submitter ?? undefined);
    });
    window.addEventListener('beforeunload', (event) => { if (queue.length) event.preventDefault(); });
  }

  /* Time with the needle on. The button's data-needle-seconds is what was counted before the page was drawn. */
  function startNeedle(form, tap) {
    const button = form.querySelector('[data-needle]');
    if (!button) return;
    let counted = Number(button.dataset.needleSeconds || 0);
    let since = button.getAttribute('aria-pressed') === 'true' ? Date.now() : 0;
    const total = () => counted + (since ? (Date.now() - since) / 1000 : 0);

    function show() {
      for (const place of document.querySelectorAll('[data-needle-time]')) {
        place.textContent = `${clockWords(total())} ${since ? 'at work' : 'worked'}`;
      }
      button.setAttribute('aria-pressed', String(Boolean(since)));
      button.textContent = since ? button.dataset.wordsOn || 'Pause' : button.dataset.wordsOff || 'Needle on';
    }

    button.addEventListener('click', () => {
      counted = total();
      since = since ? 0 : Date.now();
      tap('needle', String(Math.round(counted)), Boolean(since), since ? 'Needle on' : 'Pause');
      show();
    });
    setInterval(() => { if (since) show(); }, 1000);
    show();
  }

  document.querySelectorAll('form[data-sheet]').forEach(start);
})();
