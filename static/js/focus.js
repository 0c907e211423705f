/* Where the keyboard is after something changed: on the error summary after a refused form, on the part that was
   swapped in when it asks for it (data-focus), and from a summary's link on the field itself. */
(() => {
  const focusable = 'input:not([type=hidden]):not([disabled]), select, textarea, button, a[href], [tabindex]';

  /* "Fill this in." alone, three times over, names nothing: each line of the summary begins with its field's words. */
  function name(summary) {
    for (const link of summary.querySelectorAll('a[href^="#"]')) {
      const field = document.getElementById(link.hash.slice(1));
      const words = field?.matches('fieldset') ? field.querySelector('legend') : field?.labels?.[0];
      const label = words?.firstChild?.textContent.trim();
      if (label && !link.textContent.startsWith(label)) link.prepend(`${label}: `);
    }
  }

  function land(root) {
    const summary = root.matches?.('[data-error-summary]') ? root : root.querySelector('[data-error-summary]');
    const target = summary ?? (root.matches?.('[data-focus]') ? root : root.querySelector('[data-focus]'));
    if (summary) name(summary);
    if (!target) return;
    if (!target.matches(focusable)) target.setAttribute('tabindex', '-1');
    target.focus();
  }

  document.addEventListener('click', (event) => {
    const link = event.target.closest?.('[data-error-summary] a[href^="#"]');
    const named = link && document.getElementById(link.hash.slice(1));
    if (!named) return;
    const field = named.matches(focusable) ? named : named.querySelector(focusable);
    if (!field) return;
    event.preventDefault();
    named.scrollIntoView({ block: 'start' });
    field.focus({ preventScroll: true });
  });

  document.addEventListener('htmx:after:swap', (event) => {
    const target = event.detail?.ctx?.target;
    const held = target?.id ? document.getElementById(target.id) : target;
    if (held) land(held);
  });

  land(document.body);
})();
