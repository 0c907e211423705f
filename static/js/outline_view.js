/* The photo with the outlines on it: one SVG whose viewBox is what is seen, and a loupe for what lies under a finger. */
import { ROLES, apart, ringsOf } from './outline_model.js';

const SVG = 'http://www.w3.org/2000/svg';
const LOUPE = 44;       /* screen pixels shown each way from the middle of the loupe, before it enlarges them */
const MOST_ZOOM = 24;
const ROOM = 14;        /* screen pixels from one drawn point to the next */

export const shape = (name, attributes) => {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
};

const drawn = (points, isClosed) => `M${points.map((p) => p.join(' ')).join('L')}${isClosed ? 'Z' : ''}`;
export const drawnPiece = (piece) => ringsOf(piece).map((ring) => drawn(ring, true)).join('');

export function makeView(img, model, under) {
  const { width, height } = model;
  const seen = { x: 0, y: 0, zoom: 1 };
  const stage = shape('svg', { class: 'outline-stage', tabindex: '0', role: 'application',
    'aria-label': `${img.alt}. Arrow keys move the cross, space sets a point, enter closes the outline, n chooses a point.` });
  const lines = shape('g', {});
  stage.append(shape('image', { href: img.getAttribute('src'), width, height }), lines);
  stage.style.aspectRatio = `${width} / ${height}`;
  const loupe = shape('svg', { class: 'outline-loupe', 'aria-hidden': 'true' });
  const copied = shape('g', {});
  loupe.append(shape('image', { href: img.getAttribute('src'), width, height }), copied);
  loupe.setAttribute('hidden', '');
  const frame = document.createElement('div');
  frame.className = 'outline-frame';
  frame.append(stage, loupe);
  img.hidden = true;
  img.after(frame);

  const unit = () => 1 / (stage.getScreenCTM()?.a || 1);   /* photo pixels in one pixel of the screen */
  const size = () => [width / seen.zoom, height / seen.zoom];

  /* Points that would run into one another are left out until the photo is shown larger: the scar must stay in sight.
     They are there all the same, for a finger and for the keys. */
  function vertices(points, isAt, u) {
    let last = null;
    points.forEach((p, i) => {
      if (last && !isAt(i) && apart(p, last) < ROOM * u) return;
      last = p;
      lines.append(shape('circle', { cx: p[0], cy: p[1], r: (isAt(i) ? 7 : 5) * u, class: `outline-vertex${isAt(i) ? ' selected' : ''}` }));
    });
  }

  function draw() {
    const [w, h] = size();
    seen.x = Math.min(width - w, Math.max(0, seen.x));
    seen.y = Math.min(height - h, Math.max(0, seen.y));
    stage.setAttribute('viewBox', `${seen.x} ${seen.y} ${w} ${h}`);
    lines.replaceChildren();
    const u = unit();
    for (const piece of under) lines.append(shape('path', { d: drawnPiece(piece), class: 'outline-theirs' }));
    model.pieces.forEach((piece, i) => {
      const d = drawnPiece(piece);
      const at = model.picked && !model.picked.draft && model.picked.piece === i ? model.picked : null;
      lines.append(shape('path', { d, class: `outline-under${at && model.whole ? ' whole' : ''}` }), shape('path', { d, class: `outline-over ${piece.role}` }));
      if (at && !model.whole) ringsOf(piece).forEach((ring, j) => vertices(ring, (k) => at.ring === j && at.point === k, u));
    });
    if (model.draft) {
      const d = drawn(model.draft.points, false);
      lines.append(shape('path', { d, class: 'outline-under' }), shape('path', { d, class: `outline-over ${model.draft.role}` }));
      vertices(model.draft.points, (k) => Boolean(model.picked?.draft) && model.picked.point === k, u);
    }
    if (document.activeElement !== stage) return;
    const d = `M${model.cross[0] - 14 * u} ${model.cross[1]}h${28 * u}M${model.cross[0]} ${model.cross[1] - 14 * u}v${28 * u}`;
    lines.append(shape('path', { d, class: 'outline-under cross' }), shape('path', { d, class: 'outline-over cross' }));
  }

  /* Keeps `at` where it is on the screen while the photo grows or shrinks around it. */
  function zoomTo(zoom, at) {
    const before = seen.zoom;
    seen.zoom = Math.min(MOST_ZOOM, Math.max(1, zoom));
    const [x, y] = at ?? [seen.x + width / before / 2, seen.y + height / before / 2];
    seen.x = x - ((x - seen.x) * before) / seen.zoom;
    seen.y = y - ((y - seen.y) * before) / seen.zoom;
    draw();
  }

  return {
    stage, lines, draw, unit, zoomTo, seen,
    at(event) {
      const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(stage.getScreenCTM().inverse());
      return [p.x, p.y];
    },
    pan(dx, dy) {
      seen.x += dx;
      seen.y += dy;
      draw();
    },
    look([dx, dy]) {
      const [w, h] = size();
      this.pan((dx * w) / 4, (dy * h) / 4);
    },
    /* What is moved by keys stays in sight, also when the photo is zoomed. */
    follow(p) {
      const [w, h] = size();
      if (p[0] < seen.x || p[0] > seen.x + w) seen.x = p[0] - w / 2;
      if (p[1] < seen.y || p[1] > seen.y + h) seen.y = p[1] - h / 2;
    },
    /* The loupe stands in the corner that the finger is not in. */
    loupe(p) {
      if (!p) return loupe.setAttribute('hidden', '');
      const [w, h] = size();
      const around = LOUPE * unit();
      loupe.removeAttribute('hidden');
      loupe.dataset.side = p[0] < seen.x + w / 2 ? 'right' : 'left';
      loupe.setAttribute('viewBox', `${p[0] - around} ${p[1] - around} ${2 * around} ${2 * around}`);
      const cross = `M${p[0] - around / 4} ${p[1]}h${around / 2}M${p[0]} ${p[1] - around / 4}v${around / 2}`;
      copied.replaceChildren(...[...lines.children].map((each) => each.cloneNode()),
        shape('path', { d: cross, class: 'outline-under' }), shape('path', { d: cross, class: 'outline-over' }));
      for (const circle of copied.querySelectorAll('circle')) circle.setAttribute('r', 2.5 * unit());
      return undefined;
    },
  };
}

/* The pieces in words, each with a button that chooses it: also what a screen reader has of the picture. */
export function listPieces(model, list, choose) {
  const rows = Object.keys(ROLES).flatMap((role) => model.of(role)).map((piece) => {
    const row = document.createElement('li');
    const words = document.createElement('span');
    words.textContent = `${model.named(piece)}: ${model.about([piece])}.`;
    const button = document.createElement('button');
    button.type = 'button';
    button.className = 'as-link';
    button.textContent = 'Choose';
    button.setAttribute('aria-label', `Choose ${model.named(piece)}`);
    button.addEventListener('click', () => choose(model.pieces.indexOf(piece)));
    row.append(words, ' ', button);
    return row;
  });
  const both = Object.entries(ROLES).map(([role, words]) => {
    const pieces = model.of(role);
    return pieces.length ? `${words}: ${pieces.length} ${pieces.length === 1 ? 'piece' : 'pieces'}, ${model.about(pieces)}.` : `${words}: not outlined yet.`;
  });
  list.sum.textContent = both.join(' ');
  list.rows.replaceChildren(...rows);
}
