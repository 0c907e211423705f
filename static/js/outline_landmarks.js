/* Two to four landmarks placed on two photos, the same spots on both, in turns: by a tap, or with the keys while a photo
   has the focus (arrows move the cross, space places, backspace takes the last one back). */
import { Model } from './outline_model.js';
import { drawnPiece, shape } from './outline_view.js';

const MOST = 4;
const FEWEST = 2;
const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const NEAR = 22;

function start(form) {
  if (form.dataset.landmarksReady) return;
  form.dataset.landmarksReady = 'yes';
  form.querySelector('[data-needs-script]')?.remove();
  const input = form.querySelector('input[name="landmarks"]');
  const said = form.querySelector('[data-landmarks-said]');
  const placed = [[], []];
  const say = (words) => { said.textContent = words; };

  const stages = [...form.querySelectorAll('[data-landmarks-photo]')].map((img, side) => {
    const [width, height] = [Number(img.getAttribute('width')), Number(img.getAttribute('height'))];
    const stage = shape('svg', { class: 'outline-stage', viewBox: `0 0 ${width} ${height}`, tabindex: '0', role: 'application',
      'aria-label': `${img.alt}. Arrow keys move the cross, space places a landmark, backspace takes the last one back.` });
    const lines = shape('g', {});
    stage.append(shape('image', { href: img.getAttribute('src'), width, height }), lines);
    const model = new Model(width, height);
    if (side === 0) model.load(form.dataset.outlines);
    img.hidden = true;
    img.after(stage);
    return { stage, lines, model, cross: [width / 2, height / 2], unit: () => 1 / (stage.getScreenCTM()?.a || 1) };
  });

  function draw() {
    stages.forEach(({ stage, lines, model, cross, unit }, side) => {
      const u = unit();
      lines.replaceChildren(...model.pieces.flatMap((piece) => ['outline-under', `outline-over ${piece.role}`].map((kind) => shape('path', { d: drawnPiece(piece), class: kind }))));
      placed[side].forEach(([x, y], i) => {
        const number = shape('text', { x, y: y + 5 * u, 'font-size': 14 * u, 'text-anchor': 'middle', class: 'landmark-number' });
        number.textContent = i + 1;
        lines.append(shape('circle', { cx: x, cy: y, r: 11 * u, class: 'outline-vertex' }), number);
      });
      if (document.activeElement !== stage) return;
      const d = `M${cross[0] - 14 * u} ${cross[1]}h${28 * u}M${cross[0]} ${cross[1] - 14 * u}v${28 * u}`;
      lines.append(shape('path', { d, class: 'outline-under' }), shape('path', { d, class: 'outline-over' }));
    });
  }

  function changed(words) {
    const pairs = Math.min(placed[0].length, placed[1].length);
    input.value = pairs ? JSON.stringify(placed[0].slice(0, pairs).map((p, i) => [p, placed[1][i]].map((q) => q.map((n) => Math.round(n * 10) / 10)))) : '';
    const [left, right] = placed.map((points) => points.length);
    const next = left > right ? `Now spot ${left} on the right photo.` : pairs < FEWEST ? 'Next spot on the left photo.'
      : `${pairs} pairs stand; ${pairs < MOST ? 'place another or carry over.' : 'carry over.'}`;
    draw();
    say(`${words} ${next}`);
  }

  function place(side, at) {
    const other = placed[1 - side].length;
    if (side === 1 && placed[1].length >= other) return say('Tap the left photo first.');
    if (side === 0 && placed[0].length > other) return say('Tap the same spot on the right photo first, or drag to correct.');
    if (placed[side].length >= MOST) return say('Four landmarks are enough. Drag one to correct it.');
    placed[side].push(at);
    return changed(`Landmark ${placed[side].length} placed on the ${side ? 'right' : 'left'}.`);
  }

  stages.forEach((one, side) => {
    const { stage, model } = one;
    let held = -1;
    const at = (event) => {
      const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(stage.getScreenCTM().inverse());
      return model.inside([p.x, p.y]);
    };
    const nearest = (p) => placed[side].findIndex(([x, y]) => Math.hypot(x - p[0], y - p[1]) / one.unit() <= NEAR);
    stage.addEventListener('pointerdown', (event) => {
      if (!event.isPrimary || event.button > 0) return;
      stage.setPointerCapture(event.pointerId);
      const p = at(event);
      held = nearest(p);
      one.cross = p;
      if (held < 0) place(side, p);
    });
    stage.addEventListener('pointermove', (event) => {
      if (held < 0 || !event.isPrimary) return;
      placed[side][held] = at(event);
      draw();
    });
    stage.addEventListener('pointerup', () => {
      if (held >= 0) changed(`Landmark ${held + 1} moved.`);
      held = -1;
    });
    stage.addEventListener('pointercancel', () => { held = -1; });
    stage.addEventListener('keydown', (event) => {
      const way = WAYS[event.key];
      if (way) {
        const by = (event.shiftKey ? 10 : 1) * (event.repeat ? 4 : 1) * one.unit();
        one.cross = model.inside([one.cross[0] + way[0] * by, one.cross[1] + way[1] * by]);
        draw();
      } else if (event.key === ' ') place(side, one.cross);
      else if (event.key === 'Backspace' || event.key === 'Delete') {
        if (placed[side].pop()) changed('Taken back.');
      } else return;
      event.preventDefault();
    });
    stage.addEventListener('focus', draw);
    stage.addEventListener('blur', draw);
    new ResizeObserver(draw).observe(stage);
  });
  form.addEventListener('submit', (event) => {
    if (Math.min(placed[0].length, placed[1].length) >= FEWEST) return;
    event.preventDefault();
    say('Place at least two landmarks on both photos.');
  });
  draw();
}

const startAll = () => document.querySelectorAll('[data-landmarks]').forEach(start);
startAll();
document.addEventListener('htmx:after:swap', startAll);
