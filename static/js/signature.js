/* A drawn signature as a PNG data URL in a hidden input. The typed name beside it always suffices, so nothing here is
   needed to sign; without this script the drawing area stays hidden. */
(() => {
  function start(root) {
    if (root.dataset.signatureReady || !window.SignaturePad) return;
    root.dataset.signatureReady = 'yes';
    const canvas = root.querySelector('[data-signature-canvas]');
    const value = root.querySelector('[data-signature-value]');
    const said = root.querySelector('[data-signature-said]');
    root.querySelector('[data-signature-drawn]').hidden = false;

    const pad = new window.SignaturePad(canvas, { penColor: '#000000', backgroundColor: '#ffffff', minWidth: 0.8, maxWidth: 2.6 });
    const keep = () => {
      value.value = pad.isEmpty() ? '' : pad.toDataURL('image/png');
      value.dispatchEvent(new Event('change', { bubbles: true }));
    };

    /* Turning the tablet changes the size and would wipe or stretch the strokes: they are drawn again. */
    function fit() {
      const ratio = Math.max(window.devicePixelRatio || 1, 1);
      const width = Math.round(canvas.clientWidth * ratio);
      if (!width || width === canvas.width) return;
      const strokes = pad.toData();
      canvas.width = width;
      canvas.height = Math.round(canvas.clientHeight * ratio);
      canvas.getContext('2d').scale(ratio, ratio);
      pad.clear();
      if (strokes.length) pad.fromData(strokes);
      else if (value.value.startsWith('data:image/png')) pad.fromDataURL(value.value, { width: canvas.clientWidth, height: canvas.clientHeight });
    }

    pad.addEventListener('endStroke', () => { keep(); said.textContent = 'Signature drawn.'; });
    root.querySelector('[data-signature-clear]').addEventListener('click', () => {
      pad.clear();
      keep();
      said.textContent = 'Signature cleared.';
    });
    new ResizeObserver(fit).observe(canvas);
    fit();
  }

  const startAll = () => document.querySelectorAll('[data-signature]').forEach(start);
  startAll();
  document.addEventListener('htmx:after:swap', startAll);
})();
