/* The keys of the outline tool; they work while the photo has the focus. Tab walks from point to point once one is
   chosen, leaves after the last, and leaves at once after Escape, so that nobody is held in the picture. */

export const WAYS = { Left: [-1, 0], Right: [1, 0], Up: [0, -1], Down: [0, 1] };
const FAR = 10;      /* with shift, and four times as far while an arrow is held down */
const HELD = 4;

export const WORDS = [
  ['Arrows', 'move the cross, the chosen point or the chosen piece by a pixel of the screen; with shift by ten'],
  ['Space, Enter', 'sets a point at the cross; closes the outline'],
  ['n, p, Tab', 'next and previous point; Tab goes on once a point is chosen, Escape lets go of it'],
  ['o, b', 'next piece; chooses the piece as a whole, to move it'],
  ['i, Delete', 'puts a point in after the chosen one; deletes it'],
  ['s, m, l', 'takes the colour at the cross; takes more, takes less'],
  ['h', 'cuts a hole, or stops cutting'],
  ['u, r', 'undoes, does again; Ctrl+Z and Ctrl+Y as well'],
  ['+, −, 0', 'larger, smaller, the whole photo; Ctrl with an arrow looks further that way'],
];

export function listen(stage, model, act) {
  const keys = {
    ' ': () => act.add([model.cross]), Enter: act.close, Delete: act.removePoint, Backspace: act.removePoint,
    n: () => act.step(1), p: () => act.step(-1), o: () => act.stepPiece(1), b: act.whole, i: act.insert,
    s: () => act.grow(model.cross), m: () => act.more(1), l: () => act.more(-1), h: act.toggleHole,
    u: act.undo, r: act.redo, '+': () => act.zoom(1.5), '=': () => act.zoom(1.5), '-': () => act.zoom(1 / 1.5), 0: act.wholePhoto,
    Escape: act.drop,
  };
  const withCtrl = { z: act.undo, y: act.redo, Z: act.redo };

  stage.addEventListener('keydown', (event) => {
    const way = event.key.startsWith('Arrow') ? WAYS[event.key.slice(5)] : null;
    const ctrl = event.ctrlKey || event.metaKey;
    if (event.altKey) return;
    if (event.key === 'Tab') {
      const next = model.picked && !model.whole ? model.next(event.shiftKey ? -1 : 1) : null;
      if (!next) return;
      act.pick(next);
    } else if (way && ctrl) act.look(way);
    else if (way) act.nudge(way, (event.shiftKey ? FAR : 1) * (event.repeat ? HELD : 1));
    else if (ctrl && withCtrl[event.key]) withCtrl[event.key]();
    else if (!ctrl && keys[event.key]) keys[event.key]();
    else return;
    event.preventDefault();
  });
}
