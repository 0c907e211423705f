/* What fingers, a pen or a mouse do on the photo. One that stays put taps; one that starts on a point drags it; any other
   that moves draws, or moves the photo, as `touch` says. Two fingers move and enlarge the photo, whatever is chosen. */
import { apart, holds, off, ringsOf } from './outline_model.js';

const NEAR = 22;         /* half of a 44 px target: this close to a point counts as on it */
const RIGHT_ON = 8;      /* while an outline is open its points may lie close together: only this close is meant for one */
const ON_LINE = 10;
const STROKE_FROM = 10;  /* a finger wobbles less than this when it taps */
const WHEEL = 1.0015;

export function handle(view, model, act) {
  const { stage } = view;
  const touches = new Map();
  let held = null;     /* {points, hit, moved, screen} of the one that draws */
  let pinch = null;

  function nearest(at) {
    let best = null;
    const look = (ring, hit) => ring.forEach((p, point) => {
      const far = apart(p, at) / view.unit();
      if (far <= NEAR && (!best || far < best.far)) best = { ...hit, point, far };
    });
    model.pieces.forEach((piece, i) => ringsOf(piece).forEach((ring, j) => look(ring, { piece: i, ring: j })));
    if (model.draft) look(model.draft.points, { draft: true, ring: 0 });
    return best;
  }

  const bare = ({ far, ...hit }) => hit;
  const isStart = (hit) => Boolean(hit?.draft) && hit.point === 0 && model.draft.points.length >= 3;

  function meant(at) {
    if (act.touch() === 'piece' || act.touch() === 'view') return null;
    const near = nearest(at);
    return near && model.draft && !isStart(near) && near.far >= RIGHT_ON ? null : near;
  }

  const pieceAt = (at) => model.pieces.findLastIndex((piece) => holds(piece.outer, at));

  /* A tap on the line of the chosen piece puts a point there. */
  function lineAt(at) {
    const { picked } = model;
    if (!picked || picked.draft || model.whole) return null;
    for (const [ring, points] of ringsOf(model.pieces[picked.piece]).entries()) {
      const point = points.findIndex((p, i) => off(at, p, points[(i + 1) % points.length]) / view.unit() <= ON_LINE);
      if (point >= 0) return { piece: picked.piece, ring, point };
    }
    return null;
  }

  function tapped(at, hit) {
    const touch = act.touch();
    if (touch === 'view') return undefined;
    if (touch === 'piece') {
      const piece = pieceAt(at);
      return piece < 0 ? act.say('Tap inside an outline to choose it.') : act.pickPiece(piece);
    }
    if (isStart(hit)) return act.close();
    if (hit) return act.pick(bare(hit));
    if (touch === 'snap') return act.grow(at);
    const line = model.draft ? null : lineAt(at);
    return line ? act.insertOn(line, at) : act.add([at]);
  }

  function moved(event) {
    const now = view.at(event);
    const begins = !held.moved;
    held.moved = true;
    const { hit } = held;
    if (hit && !isStart(hit)) {
      if (begins) act.grab(bare(hit));
      model.movePoint(now);
      view.draw();
    } else if (held.piece >= 0) {
      if (begins) act.grabPiece(held.piece);
      model.movePiece([now[0] - held.last[0], now[1] - held.last[1]]);
      view.draw();
    } else if (act.touch() !== 'draw' && act.touch() !== 'hole') {
      /* The photo moves under the finger, so the finger stays where it took hold of it. */
      view.pan(held.points[0][0] - now[0], held.points[0][1] - now[1]);
    } else {
      held.points.push(...(event.getCoalescedEvents?.() ?? [event]).map(view.at));
      act.trace(held.points);
    }
    held.last = now;
    if (event.pointerType !== 'mouse' && (held.hit || act.touch() === 'draw' || act.touch() === 'hole')) view.loupe(now);
  }

  function letGo() {
    const { points, hit, moved: isMoved, piece } = held;
    held = null;
    view.loupe(null);
    if (!isMoved) return tapped(points[0], hit);
    if (hit && !isStart(hit)) return act.dropped('Point moved.');
    if (piece >= 0) return act.dropped('Piece moved.');
    if (points.length < 2) return view.draw();
    act.stroke(points);
    const end = nearest(points[points.length - 1]);
    return isStart(end) ? act.close() : undefined;
  }

  /* The second finger ends what the first began: a drag stays where it is, a stroke was none. */
  function startPinch() {
    if (held?.moved && held.hit && !isStart(held.hit)) act.dropped('Point moved.');
    else if (held?.moved && held.piece >= 0) act.dropped('Piece moved.');
    held = null;
    view.loupe(null);
    view.draw();
    pinch = between();
  }

  function between() {
    const [a, b] = [...touches.values()];
    return { x: (a.clientX + b.clientX) / 2, y: (a.clientY + b.clientY) / 2, wide: Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY) };
  }

  function pinched() {
    const now = between();
    view.pan((pinch.x - now.x) * view.unit(), (pinch.y - now.y) * view.unit());
    view.zoomTo(view.seen.zoom * (now.wide / Math.max(1, pinch.wide)), view.at({ clientX: now.x, clientY: now.y }));
    pinch = now;
  }

  stage.addEventListener('pointerdown', (event) => {
    if (event.button > 1) return;
    stage.setPointerCapture(event.pointerId);
    touches.set(event.pointerId, event);
    if (touches.size === 2) return startPinch();
    if (touches.size > 2 || pinch) return undefined;
    const at = view.at(event);
    const isPan = event.button === 1;
    const hit = isPan ? null : meant(at);
    held = { points: [at], last: at, hit, moved: false, screen: [event.clientX, event.clientY], isPan,
      piece: act.touch() === 'piece' && !isPan ? pieceAt(at) : -1 };
    if (isPan) event.preventDefault();
    return undefined;
  });
  stage.addEventListener('pointermove', (event) => {
    if (!touches.has(event.pointerId)) return;
    touches.set(event.pointerId, event);
    if (pinch && touches.size >= 2) return pinched();
    if (!held) return;
    if (!held.moved && apart([event.clientX, event.clientY], held.screen) < STROKE_FROM) return;
    if (held.isPan) {
      const now = view.at(event);
      held.moved = true;
      return view.pan(held.points[0][0] - now[0], held.points[0][1] - now[1]);
    }
    return moved(event);
  });
  stage.addEventListener('pointerup', (event) => {
    touches.delete(event.pointerId);
    if (pinch) {
      if (!touches.size) pinch = null;
      return;
    }
    if (!held) return;
    if (held.isPan) held = null;
    else letGo();
  });
  stage.addEventListener('pointercancel', (event) => {
    touches.delete(event.pointerId);
    if (held?.moved && (held.hit || held.piece >= 0)) act.dropped('Moved.');
    held = null;
    if (!touches.size) pinch = null;
    view.loupe(null);
    view.draw();
  });
  /* A wheel scrolls the page until the photo was clicked; pinching on a touchpad comes as a wheel with ctrl. */
  stage.addEventListener('wheel', (event) => {
    if (!event.ctrlKey && document.activeElement !== stage) return;
    event.preventDefault();
    view.zoomTo(view.seen.zoom * WHEEL ** -(event.deltaY * (event.deltaMode ? 30 : event.ctrlKey ? 6 : 1)), view.at(event));
  }, { passive: false });
}
