/* Outlines as they are being drawn: pieces with holes, the one that is open, the point that is chosen, and the way back.
   Nothing here knows the page. Points are in the photo's own pixels. What changes something gives the sentence that says
   so; a sentence alone means that nothing changed. */

export const ROLES = { scar: 'Scar', skin: 'Skin around it' };
const MOST_STEPS_BACK = 200;

export const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
export const counted = (n, one, many = `${one}s`) => `${n} ${n === 1 ? one : many}`;
const middle = (a, b) => [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];

/* How far p lies from the line between a and b, which ends there. */
export function off(p, a, b) {
  const length = apart(a, b) ** 2;
  const t = length ? Math.min(1, Math.max(0, ((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / length)) : 0;
  return apart(p, [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
}

/* Ramer-Douglas-Peucker: the fewest points that stay within `error` of the stroke. */
export function simplified(points, error) {
  if (points.length < 3) return points;
  const [a, b] = [points[0], points[points.length - 1]];
  let farthest = 0;
  let index = 0;
  for (let i = 1; i < points.length - 1; i += 1) {
    const far = off(points[i], a, b);
    if (far > farthest) [farthest, index] = [far, i];
  }
  if (farthest <= error) return [a, b];
  return [...simplified(points.slice(0, index + 1), error).slice(0, -1), ...simplified(points.slice(index), error)];
}

/* Shoelace formula. */
export const areaOf = (ring) => Math.abs(ring.reduce((sum, [x, y], i) => {
  const [u, v] = ring[(i + 1) % ring.length];
  return sum + x * v - u * y;
}, 0)) / 2;

/* Even-odd rule: whether a point lies inside a ring. */
export const holds = (ring, [x, y]) => ring.reduce((inside, [a, b], i) => {
  const [c, d] = ring[(i + 1) % ring.length];
  return (b > y) !== (d > y) && x < ((c - a) * (y - b)) / (d - b) + a ? !inside : inside;
}, false);

export const ringsOf = (piece) => [piece.outer, ...piece.holes];

export class Model {
  constructor(width, height) {
    Object.assign(this, { width, height, pieces: [], draft: null, role: 'scar', cutting: false, picked: null, whole: false,
      cross: [width / 2, height / 2], past: [], future: [] });
  }

  load(text) {
    const filed = JSON.parse(text || '{}');
    for (const role of Object.keys(ROLES)) {
      for (const one of filed[role] ?? []) {
        this.pieces.push({ role, outer: Array.isArray(one) ? one : one.outer, holes: Array.isArray(one) ? [] : one.holes ?? [] });
      }
    }
  }

  text() {
    const round = (ring) => ring.map((p) => p.map((n) => Math.round(n * 10) / 10));
    const out = { scar: [], skin: [] };
    for (const piece of this.pieces) out[piece.role].push({ outer: round(piece.outer), holes: piece.holes.map(round) });
    return this.pieces.length || this.draft ? JSON.stringify(out) : '';
  }

  inside([x, y]) { return [Math.min(this.width, Math.max(0, x)), Math.min(this.height, Math.max(0, y))]; }
  of(role) { return this.pieces.filter((piece) => piece.role === role); }
  named(piece) { return `${ROLES[piece.role]}, piece ${this.of(piece.role).indexOf(piece) + 1}`; }
  ring() { return this.picked && (this.picked.draft ? this.draft?.points : this.pieces[this.picked.piece] && ringsOf(this.pieces[this.picked.piece])[this.picked.ring]); }
  point() { return this.ring()?.[this.picked.point] ?? null; }

  /* The way back and forth. */
  state() { return JSON.stringify({ pieces: this.pieces, draft: this.draft }); }

  remember() {
    this.past.push(this.state());
    if (this.past.length > MOST_STEPS_BACK) this.past.shift();
    this.future = [];
  }

  turn(from, to, words, none) {
    if (!from.length) return none;
    to.push(this.state());
    Object.assign(this, JSON.parse(from.pop()), { picked: null, whole: false });
    if (this.draft) [this.role, this.cutting] = [this.draft.role, this.draft.cutting];
    return words;
  }

  undo() { return this.turn(this.past, this.future, 'Undone.', 'Nothing to undo.'); }
  redo() { return this.turn(this.future, this.past, 'Done again.', 'Nothing was undone.'); }

  /* Drawing. */
  add(points) {
    this.remember();
    [this.picked, this.whole] = [null, false];
    this.draft ??= { role: this.role, cutting: this.cutting, points: [] };
    this.draft.points.push(...points.map((p) => this.inside(p)));
    this.cross = this.inside(points[points.length - 1]);
    const n = this.draft.points.length;
    const what = this.draft.cutting ? 'Hole' : ROLES[this.draft.role];
    return `${what}: ${counted(n, 'point')}.${n >= 3 ? ' Close the outline when you are round.' : ''}`;
  }

  close(near = 0) {
    const { draft } = this;
    if (!draft) return 'There is no open outline.';
    if (draft.points.length < 3) return 'An outline needs at least three points.';
    const around = draft.cutting ? this.pieces.find((piece) => draft.points.every((p) => holds(piece.outer, p))) : null;
    if (draft.cutting && !around) return 'A hole lies inside an outline that is closed. Undo, and cut it there.';
    this.remember();
    const points = draft.points.slice();
    /* A stroke that came back to where it began ends on its own first point: that point is kept once. */
    if (points.length > 3 && apart(points[0], points[points.length - 1]) < near) points.pop();
    this.draft = null;
    if (around) {
      around.holes.push(points);
      return `Hole cut. ${this.named(around)}: ${counted(around.holes.length, 'hole')}.`;
    }
    this.pieces.push({ role: draft.role, outer: points, holes: [] });
    return `Outline closed. ${ROLES[draft.role]}: ${counted(this.of(draft.role).length, 'piece')}.`;
  }

  put(role, pieces, instead = []) {
    this.remember();
    const left = this.pieces.filter((piece) => !instead.includes(piece));
    const made = pieces.map((piece) => ({ role, outer: piece.outer, holes: piece.holes }));
    this.pieces = [...left, ...made];
    [this.picked, this.whole] = [null, false];
    return made;
  }

  /* Choosing. */
  pick(hit) {
    this.picked = hit;
    this.whole = false;
    this.cross = this.point().slice();
    if (!hit.draft) this.role = this.pieces[hit.piece].role;
    const ring = this.ring();
    const where = hit.draft ? 'open outline' : `${this.named(this.pieces[hit.piece])}${hit.ring ? `, hole ${hit.ring}` : ''}`;
    return `Point ${hit.point + 1} of ${ring.length} chosen. ${where}. Drag it, or move it with the arrows.`;
  }

  pickPiece(index) {
    this.picked = { piece: index, ring: 0, point: 0 };
    this.whole = true;
    this.role = this.pieces[index].role;
    this.cross = this.point().slice();
    return `${this.named(this.pieces[index])} chosen as a whole. Drag it, or move it with the arrows.`;
  }

  drop() {
    [this.picked, this.whole] = [null, false];
    return 'Nothing chosen.';
  }

  /* Every point there is, in the order of the list. */
  points() {
    const all = this.pieces.flatMap((piece, i) => ringsOf(piece).flatMap((ring, j) => ring.map((_, k) => ({ piece: i, ring: j, point: k }))));
    return [...all, ...(this.draft?.points ?? []).map((_, k) => ({ draft: true, ring: 0, point: k }))];
  }

  /* The next point, or null when the chosen one is the last: then Tab leaves. */
  next(by) {
    const all = this.points();
    const same = (a, b) => Boolean(a.draft) === Boolean(b.draft) && a.piece === b.piece && a.ring === b.ring && a.point === b.point;
    const now = this.picked ? all.findIndex((each) => same(each, this.picked)) : by > 0 ? -1 : all.length;
    return all[now + by] ?? null;
  }

  step(by) {
    const all = this.points();
    if (!all.length) return 'There are no points yet.';
    return this.pick(this.next(by) ?? all[by > 0 ? 0 : all.length - 1]);
  }

  stepPiece(by) {
    if (!this.pieces.length) return 'There is no outline yet.';
    const now = this.picked && !this.picked.draft ? this.picked.piece : by > 0 ? -1 : 0;
    return this.pickPiece((now + by + this.pieces.length) % this.pieces.length);
  }

  /* Changing. */
  movePoint(to) {
    this.ring()[this.picked.point] = this.inside(to);
    this.cross = this.inside(to);
  }

  /* A piece is moved whole and stays in the photo. */
  movePiece([dx, dy]) {
    const piece = this.pieces[this.picked.piece];
    const [xs, ys] = [piece.outer.map((p) => p[0]), piece.outer.map((p) => p[1])];
    const x = Math.min(this.width - Math.max(...xs), Math.max(-Math.min(...xs), dx));
    const y = Math.min(this.height - Math.max(...ys), Math.max(-Math.min(...ys), dy));
    for (const ring of ringsOf(piece)) ring.forEach((p, i) => { ring[i] = [p[0] + x, p[1] + y]; });
    this.cross = piece.outer[0].slice();
  }

  insert() {
    if (!this.point() || this.whole) return 'Choose a point first: tap it, or use Next point.';
    this.remember();
    const ring = this.ring();
    const at = this.picked.point;
    const isEnd = this.picked.draft && at === ring.length - 1;
    ring.splice(at + 1, 0, middle(ring[at], isEnd ? ring[Math.max(0, at - 1)] : ring[(at + 1) % ring.length]));
    this.pick({ ...this.picked, point: at + 1 });
    return `Point put in. ${counted(ring.length, 'point')} in this outline.`;
  }

  /* A point put on the line that was tapped, of the piece that is chosen. */
  insertOn(hit, at) {
    this.remember();
    ringsOf(this.pieces[hit.piece])[hit.ring].splice(hit.point + 1, 0, this.inside(at));
    return this.pick({ ...hit, point: hit.point + 1 });
  }

  removePoint() {
    if (!this.point() || this.whole) return 'Choose a point first: tap it, or use Next point.';
    this.remember();
    const ring = this.ring();
    ring.splice(this.picked.point, 1);
    if (this.picked.draft ? !ring.length : ring.length < 3) this.cut();
    else this.picked = { ...this.picked, point: Math.max(0, this.picked.point - 1) };
    if (this.picked) this.cross = this.point().slice();
    return 'Point deleted.';
  }

  removeRing() {
    if (!this.picked && this.draft) this.picked = { draft: true, ring: 0, point: 0 };
    if (!this.picked && this.pieces.length) this.picked = { piece: this.pieces.length - 1, ring: 0, point: 0 };
    if (!this.picked) return 'There is no outline.';
    this.remember();
    const { draft, piece, ring } = this.picked;
    const words = draft ? 'Open outline deleted.' : ring ? `Hole deleted. ${this.named(this.pieces[piece])}.` : `${this.named(this.pieces[piece])} deleted.`;
    this.cut();
    return words;
  }

  cut() {
    const { draft, piece, ring } = this.picked;
    if (draft) this.draft = null;
    else if (ring) this.pieces[piece].holes.splice(ring - 1, 1);
    else this.pieces.splice(piece, 1);
    [this.picked, this.whole] = [null, false];
  }

  /* Words. */
  share(pieces) {
    const area = pieces.reduce((sum, piece) => sum + areaOf(piece.outer) - piece.holes.reduce((cut, hole) => cut + areaOf(hole), 0), 0);
    const percent = (100 * area) / (this.width * this.height);
    return `${percent < 0.1 ? 'under 0.1' : percent < 10 ? percent.toFixed(1) : Math.round(percent)} % of the photo`;
  }

  about(pieces) {
    const holes = pieces.reduce((sum, piece) => sum + piece.holes.length, 0);
    const points = pieces.reduce((sum, piece) => sum + ringsOf(piece).reduce((n, ring) => n + ring.length, 0), 0);
    return [counted(points, 'point'), ...(holes ? [counted(holes, 'hole')] : []), this.share(pieces)].join(', ');
  }
}
