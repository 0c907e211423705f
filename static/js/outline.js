/* Outlines of the scar and of the skin around it, drawn on a photo. What is drawn stands in outline_model.js, how it looks
   in outline_view.js, what fingers do in outline_hand.js, the keys in outline_keys.js, the buttons in outline_bar.js. */
import { makeBars } from './outline_bar.js';
import { handle } from './outline_hand.js';
import { listen } from './outline_keys.js';
import { Model, ROLES, counted, holds, simplified } from './outline_model.js';
import { askForPieces } from './outline_server.js';
import { listPieces, makeView, shape } from './outline_view.js';

const STROKE_ERROR = 1.5;        /* pixels of the screen that a simplified stroke may differ from the drawn one */
const TOLERANCE = { first: 1, least: 0.1, most: 10, by: 1.25 };   /* a factor on what the studio takes by itself */

function start(root) {
  if (root.dataset.outlineReady) return;
  root.dataset.outlineReady = 'yes';
  root.querySelector('[data-needs-script]')?.remove();
  const input = root.querySelector(`input[name="${root.dataset.name}"]`);
  const model = new Model(Number(root.dataset.photoWidth), Number(root.dataset.photoHeight));
  const theirs = new Model(model.width, model.height);
  if (root.dataset.theirs) theirs.load(root.dataset.theirs);
  const view = makeView(root.querySelector('img'), model, theirs.pieces);
  let [touch, step] = ['draw', 5];
  let grown = null;      /* {at, tolerance, role, pieces} of the last tap that took a colour */

  const say = (words) => { bars.said.textContent = words; };

  function show() {
    if (!model.draft) model.cutting = touch === 'hole';
    view.draw();
    bars.show({ role: model.role, touch, step, hasGrown: Boolean(grown) });
  }

  function write() {
    input.value = model.text();
    input.dispatchEvent(new Event('change', { bubbles: true }));
    listPieces(model, bars.list, (piece) => {
      view.stage.focus({ preventScroll: true });
      act.pickPiece(piece);
    });
  }

  /* After a sentence of the model: what is drawn, listed and sent is the same again. */
  const done = (words) => {
    write();
    show();
    say(words);
  };
  const chose = (words) => {
    view.follow(model.cross);
    show();
    say(words);
  };

  async function grow(at, tolerance = TOLERANCE.first) {
    const { role } = model;
    if (model.draft) return say('Close or undo the open outline first.');
    const again = grown && grown.at === at ? grown : null;
    if (!again && model.of(role).some((piece) => holds(piece.outer, at))) return say('An outline is there already. Choose it, or delete it first.');
    say('Looking for the edge of that colour.');
    try {
      const pieces = await askForPieces(root.dataset.grown, { x: at[0].toFixed(1), y: at[1].toFixed(1), tolerance: tolerance.toFixed(3) });
      if (!pieces) return undefined;
      grown = { at, tolerance, role, pieces: model.put(role, pieces, again ? again.pieces : []) };
      model.cross = at.slice();
      return done(`${ROLES[role]}: ${counted(pieces.length, 'piece')} found, ${model.about(grown.pieces)}. Take more or less, then correct the points.`);
    } catch (fault) {
      if (again) again.tolerance = tolerance;
      return say(fault.message);
    }
  }

  const act = {
    canGrow: Boolean(root.dataset.grown), canPropose: Boolean(root.dataset.ring),
    say, grow, touch: () => touch, cross: () => model.cross,
    add: (points) => done(model.add(points)),
    close: () => done(model.close(2 * view.unit())),
    undo: () => { grown = null; done(model.undo()); },
    redo: () => { grown = null; done(model.redo()); },
    pick: (hit) => chose(model.pick(hit)),
    pickPiece: (piece) => chose(model.pickPiece(piece)),
    drop: () => chose(model.drop()),
    step: (by) => chose(model.step(by)),
    stepPiece: (by) => chose(model.stepPiece(by)),
    insert: () => done(model.insert()),
    insertOn: (hit, at) => done(model.insertOn(hit, at)),
    removePoint: () => done(model.removePoint()),
    removeRing: () => done(model.removeRing()),
    whole: () => (model.picked && !model.picked.draft ? chose(model.pickPiece(model.picked.piece)) : say('Choose a piece first.')),
    grab(hit) { model.remember(); model.pick(hit); },
    grabPiece(piece) { model.remember(); model.pickPiece(piece); },
    dropped: done,
    stroke: (points) => done(model.add(simplified(points, STROKE_ERROR * view.unit()))),
    trace(points) {
      view.draw();
      const d = `M${points.map((p) => p.join(' ')).join('L')}`;
      view.lines.append(shape('path', { d, class: 'outline-under' }), shape('path', { d, class: `outline-over ${model.role}` }));
    },
    /* Moves the chosen piece, or the chosen point, or else the cross; `pixels` are pixels of the screen. */
    nudge([dx, dy], pixels) {
      const by = pixels * view.unit();
      const to = model.inside([model.cross[0] + dx * by, model.cross[1] + dy * by]);
      const isMove = Boolean(model.point());
      if (isMove) model.remember();
      if (isMove && model.whole) model.movePiece([dx * by, dy * by]);
      else if (isMove) model.movePoint(to);
      else model.cross = to;
      view.follow(model.cross);
      if (isMove) write();
      show();
    },
    press(way) {
      view.stage.focus({ preventScroll: true });
      act.nudge(way, step);
    },
    zoom(by) {
      view.zoomTo(view.seen.zoom * by, model.point() ?? (document.activeElement === view.stage ? model.cross : undefined));
      say(view.seen.zoom === 1 ? 'The whole photo is shown.' : `Shown ${view.seen.zoom.toFixed(1)} times as large.`);
    },
    wholePhoto() { view.zoomTo(1); say('The whole photo is shown.'); },
    look: (way) => view.look(way),
    more(way) {
      if (!grown) return say('Tap on a colour first.');
      const tolerance = Math.min(TOLERANCE.most, Math.max(TOLERANCE.least, grown.tolerance * TOLERANCE.by ** way));
      model.role = grown.role;
      return grow(grown.at, tolerance);
    },
    async propose() {
      if (model.draft) return say('Close or undo the open outline first.');
      try {
        const pieces = await askForPieces(root.dataset.ring, { outlines: model.text() });
        if (!pieces) return undefined;
        model.put('skin', pieces, model.of('skin'));
        model.role = 'skin';
        return done('A ring of skin is proposed; it begins some millimetres outside the scar. Move it, or correct it: it should lie on plain skin, off hair, veins and the chart.');
      } catch (fault) { return say(fault.message); }
    },
    setRole(role) {
      if (model.draft) return say('Close or undo the open outline first.');
      [model.role, grown] = [role, null];
      show();
      return say(`Now outlining: ${ROLES[role]}.`);
    },
    setTouch(chosen) {
      if (model.draft && chosen !== 'view') return say('Close or undo the open outline first.');
      [touch, model.cutting] = [chosen, chosen === 'hole'];
      show();
      return say(bars.words(chosen));
    },
    toggleHole: () => act.setTouch(touch === 'hole' ? 'draw' : 'hole'),
    setStep(chosen) { step = chosen; show(); },
  };
  const bars = makeBars(root, act);
  handle(view, model, act);
  listen(view.stage, model, act);
  view.stage.addEventListener('focus', view.draw);
  view.stage.addEventListener('blur', view.draw);
  let isLeaving = false; /* by a button or a link that says what becomes of the outlines */
  input.form?.addEventListener('submit', () => {
    if (model.draft?.points.length >= 3) act.close();
    isLeaving = true;
  }, { capture: true });
  input.form?.addEventListener('click', (event) => { if (event.target.closest('a')) isLeaving = true; });

  try {
    model.load(input.value);
  } catch {
    say('The outlines that were sent could not be read. Draw them again.');
  }
  const kept = input.value;
  write();
  if (!model.pieces.length) input.value = kept;
  const begun = model.text();
  addEventListener('beforeunload', (event) => {
    if (!isLeaving && (model.draft || model.text() !== begun)) event.preventDefault();
  });
  new ResizeObserver(view.draw).observe(view.stage);
  show();
}

const startAll = () => document.querySelectorAll('[data-outline]').forEach(start);
startAll();
document.addEventListener('htmx:after:swap', startAll);
