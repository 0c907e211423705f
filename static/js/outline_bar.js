/* The rows of buttons beside the photo: everything that a finger or a key does on it can be done by them as well. */
import { ROLES } from './outline_model.js';
import { WAYS, WORDS } from './outline_keys.js';

const STEPS = [1, 5, 25];
const ROOMY = '(min-width: 70rem)';   /* as in parts.css: the rows stand beside the photo */
const TOUCHES = {
  draw: ['Sets points', 'A tap sets a point, a stroke draws freehand. Drag a point to correct it.'],
  snap: ['Takes the colour', 'Tap on the colour: the outline goes round all that looks like it. Then take more or less of it.'],
  hole: ['Cuts a hole', 'Draw inside an outline that is closed: what you go round is left out of it.'],
  piece: ['Moves a piece', 'Drag inside an outline to move it as a whole.'],
  view: ['Moves the photo', 'Drag the photo. Two fingers do that at any time, and the wheel enlarges it once you have clicked it.'],
};

function button(words, act, spoken = '') {
  const made = document.createElement('button');
  made.type = 'button';
  made.className = 'button plain';
  made.textContent = words;
  if (spoken) made.setAttribute('aria-label', spoken);
  made.addEventListener('click', act);
  return made;
}

function bar(words, buttons) {
  const group = document.createElement('div');
  group.className = 'outline-tools';
  group.setAttribute('role', 'group');
  group.setAttribute('aria-label', words);
  const label = document.createElement('span');
  label.className = 'words';
  label.textContent = words;
  const held = document.createElement('div');
  held.className = 'outline-buttons';
  held.append(...buttons);
  group.append(label, held);
  return group;
}

function folded(words, held, isOpen) {
  const made = document.createElement('details');
  made.className = 'outline-fold';
  made.open = isOpen;
  const summary = document.createElement('summary');
  summary.textContent = words;
  made.append(summary, ...held);
  return made;
}

function keyList() {
  const list = document.createElement('dl');
  list.className = 'outline-keys';
  for (const [keys, what] of WORDS) {
    const [term, said] = [document.createElement('dt'), document.createElement('dd')];
    [term.textContent, said.textContent] = [keys, what];
    list.append(term, said);
  }
  return list;
}

/* Puts the rows round the well and gives what is needed to show which are pressed. */
export function makeBars(root, act) {
  const well = root.querySelector('.well');
  const roles = Object.fromEntries(Object.entries(ROLES).map(([role, words]) => [role, button(words, () => act.setRole(role))]));
  const touches = Object.fromEntries(Object.entries(TOUCHES).filter(([touch]) => touch !== 'snap' || act.canGrow)
    .map(([touch, [words]]) => [touch, button(words, () => act.setTouch(touch))]));
  const steps = Object.fromEntries(STEPS.map((step) => [step, button(`by ${step}`, () => act.setStep(step), `Each press moves by ${step} pixels of the screen`)]));
  const amount = bar('Colour taken', [button('Take more', () => act.more(1)), button('Take less', () => act.more(-1))]);
  const above = document.createElement('div');
  above.className = 'outline-above';
  above.append(bar('Outline', Object.values(roles)), bar('A tap', Object.values(touches)), amount);
  const below = document.createElement('div');
  below.className = 'outline-below';
  const fine = [
    bar('Point', [button('Set a point at the cross', () => act.add([act.cross()])), button('Next point', () => act.step(1)), button('Previous point', () => act.step(-1)),
      button('Put a point in', act.insert), button('Delete point', act.removePoint)]),
    bar('Piece', [button('Next piece', () => act.stepPiece(1)), button('Delete piece', act.removeRing, 'Delete piece, or the chosen hole')]),
    bar('Move', [...Object.entries(WAYS).map(([words, way]) => button(words, () => act.press(way), `Move the cross, the chosen point or the chosen piece: ${words}`)), ...Object.values(steps)]),
    bar('Look further', Object.entries(WAYS).map(([words, way]) => button(words, () => act.look(way), `Look further: ${words}`))),
  ];
  below.append(
    bar('Line', [button('Close outline', act.close), button('Undo', act.undo), button('Redo', act.redo)]),
    ...(act.canPropose ? [bar('Skin', [button('Propose a ring around the scar', act.propose)])] : []),
    bar('View', [button('Larger', () => act.zoom(1.5)), button('Smaller', () => act.zoom(1 / 1.5)), button('Whole photo', act.wholePhoto)]),
    folded('Point by point, with buttons', fine, window.matchMedia(ROOMY).matches),
    folded('Keys', [keyList()], false));
  const said = document.createElement('p');
  said.className = 'outline-said';
  said.setAttribute('role', 'status');
  const list = { sum: document.createElement('p'), rows: document.createElement('ol') };
  list.sum.className = 'outline-sum';
  list.rows.className = 'outline-list';
  const drawing = document.createElement('div');
  drawing.className = 'outline-drawing';
  well.before(drawing);
  drawing.append(above, well, said, list.sum, list.rows);
  drawing.after(below);

  const press = (all, chosen) => { for (const [key, made] of Object.entries(all)) made.setAttribute('aria-pressed', String(key === String(chosen))); };
  return {
    said, list, words: (touch) => TOUCHES[touch][1],
    show({ role, touch, step, hasGrown }) {
      press(roles, role);
      press(touches, touch);
      press(steps, step);
      amount.hidden = !hasGrown;
    },
  };
}
