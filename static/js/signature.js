/* A drawn signature as a PNG data URL and its lines, each in a hidden input. The typed name beside it always suffices, so nothing here is
   needed to sign; without this script the drawing area stays hidden. */
(() => {
  /* Where the pen went and nothing else: speed and pressure would be a measure of the person. A signature of more
     points than the server takes loses every second one, which nobody sees. */
  const MAX_POINTS = 6000;
  function linesOf(pad) {
    const tenth = (number) => Math.round(number * 10) / 10;
    let lines = pad.toData().map((stroke) => stroke.points.map((at) => [tenth(at.x), tenth(at.y)])).filter((line) => line.length);
    while (lines.reduce((sum, line) => sum + line.length, 0) > MAX_POINTS && lines.some((line) => line.length > 2)) {
      lines = lines.map((line) => line.filter((_, place) => place % 2 === 0 || place === line.length - 1));
    }
    return JSON.stringify(lines.slice(0, 400));
  }

  /* A page that comes back with an error brings the lines along; they are drawn again at an even pace. */
  function drawnBefore(text) {
    try {
      return JSON.parse(text || '[]').map((line) => ({
        penColor: '#000000', dotSize: 0, minWidth: 0.8, maxWidth: 2.6, velocityFilterWeight: 0.7, compositeOperation: 'source-over',
        points: line.map(([x, y], place) => ({ x, y, pressure: 0.5, time: place * 12 })),
      }));
    } catch {
      return [];
    }
  }

  function start(root) {
    if (root.dataset.signatureReady || !window.SignaturePad) return;
    root.dataset.signatureReady = 'yes';
    const canvas = root.querySelector('[data-signature-canvas]');
    const value = root.querySelector('[data-signature-value]');
    const lines = root.querySelector('[data-signature-strokes]');
    const said = root.querySelector('[data-signature-said]');
    root.querySelector('[data-signature-drawn]').hidden = false;

    const pad = new window.SignaturePad(canvas, { penColor: '#000000', backgroundColor: '#ffffff', minWidth: 0.8, maxWidth: 2.6 });
    const keep = () => {
      value.value = pad.isEmpty() ? '' : pad.toDataURL('image/png');
      if (lines) lines.value = pad.isEmpty() ? '' : linesOf(pad);
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
      const again = strokes.length ? strokes : drawnBefore(lines?.value);
      if (again.length) pad.fromData(again);
      else if (value.value.startsWith('data:image/png')) pad.fromDataURL(value.value, { width: canvas.clientWidth, height: canvas.clientHeight });
    }

    pad.addEventListener('endStroke', () => { keep(); said.textContent = said.dataset.wordsDrawn ?? 'Signature drawn.'; });
    root.querySelector('[data-signature-clear]').addEventListener('click', () => {
      pad.clear();
      keep();
      said.textContent = said.dataset.wordsCleared ?? 'Signature cleared.';
    });
    new ResizeObserver(fit).observe(canvas);
    fit();
  }

  const startAll = () => document.querySelectorAll('[data-signature]').forEach(start);
  startAll();
  document.addEventListener('htmx:after:swap', startAll);
})();
