/* Outlines of the scar and of the skin around it, drawn on a photo. A tap sets a point, a stroke draws freehand, and all
   of it can also be done with the buttons or the keys alone. Points are kept in the photo's own pixels, whatever the
   zoom: the photo and the lines lie in one SVG whose viewBox is what is seen of it. */
(() => {
  const SVG = 'http://www.w3.org/2000/svg';
  const ROLES = { scar: 'Scar', skin: 'Skin around it' };
  const NEAR = 22;         /* half of a 44 px target: this close to a point counts as on it */
  const STROKE_FROM = 10;  /* a finger wobbles less than this when it taps */
  const STROKE_ERROR = 1.5;
  const WAYS = { Left: [-1, 0], Right: [1, 0], Up: [0, -1], Down: [0, 1] };

  const shape = (name, attributes) => {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  };
  const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);

  /* Douglas-Peucker: the fewest points that stay within `error` of the stroke. */
  function simplified(points, error) {
    if (points.length < 3) return points;
    const [a, b] = [points[0], points[points.length - 1]];
    const length = apart(a, b);
    let farthest = 0;
    let index = 0;
    for (let i = 1; i < points.length - 1; i += 1) {
      const p = points[i];
      const off = length ? Math.abs((b[0] - a[0]) * (a[1] - p[1]) - (a[0] - p[0]) * (b[1] - a[1])) / length : apart(a, p);
      if (off > farthest) [farthest, index] = [off, i];
    }
    if (farthest <= error) return [a, b];
    return [...simplified(points.slice(0, index + 1), error).slice(0, -1), ...simplified(points.slice(index), error)];
  }

  function start(root) {
    if (root.dataset.outlineReady) return;
    root.dataset.outlineReady = 'yes';
    const [width, height] = [Number(root.dataset.photoWidth), Number(root.dataset.photoHeight)];
    const input = root.querySelector(`input[name="${root.dataset.name}"]`)
      ?? root.appendChild(Object.assign(document.createElement('input'), { type: 'hidden', name: root.dataset.name }));
    const img = root.querySelector('img');

    /* A piece is {role, points, closed}. The last one is being drawn while it is not closed. */
    let pieces = [];
    let role = 'scar';
    let picked = null;               /* {piece, point}: indexes of the point that the keys move */
    let cross = [width / 2, height / 2];
    let view = { x: 0, y: 0, zoom: 1 };
    let past = [];

    const stage = shape('svg', { class: 'outline-stage', tabindex: '0', role: 'application', 'aria-label': `${img.alt}. Arrow keys move the cross, space sets a point, enter closes the outline.` });
    const photo = shape('image', { href: img.getAttribute('src'), width, height });
    const lines = shape('g', {});
    stage.append(photo, lines);
    stage.style.aspectRatio = `${width} / ${height}`;
    img.hidden = true;
    img.after(stage);

    const said = document.createElement('p');
    said.className = 'outline-said';
    said.setAttribute('role', 'status');
    const tell = (words) => { said.textContent = words; };

    const unit = () => 1 / (stage.getScreenCTM()?.a || 1);   /* photo pixels in one pixel of the screen */
    const inside = ([x, y]) => [Math.min(width, Math.max(0, x)), Math.min(height, Math.max(0, y))];
    const open = () => { const last = pieces[pieces.length - 1]; return last && !last.closed ? last : null; };
    const pointPicked = () => picked && pieces[picked.piece]?.points[picked.point];

    function remember() {
      past.push(JSON.stringify(pieces));
      if (past.length > 200) past.shift();
    }

    function write() {
      const out = { scar: [], skin: [] };
      for (const piece of pieces) if (piece.closed) out[piece.role].push(piece.points.map((p) => p.map((n) => Math.round(n * 10) / 10)));
      input.value = pieces.length ? JSON.stringify(out) : '';
      input.dispatchEvent(new Event('change', { bubbles: true }));
    }

    function draw() {
      const [w, h] = [width / view.zoom, height / view.zoom];
      view.x = Math.min(width - w, Math.max(0, view.x));
      view.y = Math.min(height - h, Math.max(0, view.y));
      stage.setAttribute('viewBox', `${view.x} ${view.y} ${w} ${h}`);
      lines.replaceChildren();
      const u = unit();
      pieces.forEach((piece, i) => {
        const d = `M${piece.points.map((p) => p.join(' ')).join('L')}${piece.closed ? 'Z' : ''}`;
        lines.append(shape('path', { d, class: 'outline-under' }), shape('path', { d, class: `outline-over ${piece.role}` }));
        if (piece.closed && picked?.piece !== i) return;
        piece.points.forEach((p, j) => lines.append(shape('circle', {
          cx: p[0], cy: p[1], r: 5.5 * u, class: `outline-vertex${picked?.piece === i && picked.point === j ? ' selected' : ''}` })));
      });
      const d = `M${cross[0] - 14 * u} ${cross[1]}h${28 * u}M${cross[0]} ${cross[1] - 14 * u}v${28 * u}`;
      if (document.activeElement === stage) lines.append(shape('path', { d, class: 'outline-under' }), shape('path', { d, class: 'outline-over' }));
      for (const [key, made] of Object.entries(roleButtons)) made.setAttribute('aria-pressed', String(key === role));
    }

    const change = (words) => { write(); draw(); tell(words); };

    /* The cross stays in sight, also when the photo is zoomed. */
    function follow(p) {
      const [w, h] = [width / view.zoom, height / view.zoom];
      if (p[0] < view.x || p[0] > view.x + w) view.x = p[0] - w / 2;
      if (p[1] < view.y || p[1] > view.y + h) view.y = p[1] - h / 2;
    }

    function add(points) {
      remember();
      picked = null;
      if (!open()) pieces.push({ role, points: [], closed: false });
      open().points.push(...points.map(inside));
      cross = inside(points[points.length - 1]);
      const n = open().points.length;
      change(`${ROLES[role]}: ${n} ${n === 1 ? 'point' : 'points'}.${n >= 3 ? ' Close the outline when you are round.' : ''}`);
    }

    function close() {
      const piece = open();
      if (!piece) return tell('There is no open outline.');
      if (piece.points.length < 3) return tell('An outline needs at least three points.');
      remember();
      /* A stroke that came back to where it began ends on its own first point: that point is kept once. */
      if (piece.points.length > 3 && apart(piece.points[0], piece.points[piece.points.length - 1]) < 2 * unit()) piece.points.pop();
      piece.closed = true;
      const n = pieces.filter((each) => each.role === piece.role).length;
      change(`Outline closed. ${ROLES[piece.role]}: ${n} ${n === 1 ? 'outline' : 'outlines'}.`);
    }

    function undo() {
      if (!past.length) return tell('Nothing to undo.');
      pieces = JSON.parse(past.pop());
      picked = null;
      change('Undone.');
    }

    function removePoint() {
      if (!pointPicked()) return tell('Choose a point first: tap it, or use Next point.');
      remember();
      const piece = pieces[picked.piece];
      piece.points.splice(picked.point, 1);
      if (!piece.points.length || (piece.closed && piece.points.length < 3)) pieces.splice(picked.piece, 1);
      picked = null;
      change('Point deleted.');
    }

    function removePiece() {
      const index = picked ? picked.piece : pieces.length - 1;
      if (index < 0) return tell('There is no outline.');
      remember();
      const [gone] = pieces.splice(index, 1);
      picked = null;
      change(`Outline deleted: ${ROLES[gone.role]}.`);
    }

    function choose(piece, point) {
      picked = { piece, point };
      cross = pieces[piece].points[point].slice();
      role = pieces[piece].role;
      follow(cross);
      draw();
      tell(`Point ${point + 1} of ${pieces[piece].points.length} chosen, ${ROLES[role]}. Drag it, or move it with the arrows.`);
    }

    function step(by) {
      const all = pieces.flatMap((piece, i) => piece.points.map((_, j) => [i, j]));
      if (!all.length) return tell('There are no points yet.');
      const now = all.findIndex(([i, j]) => picked?.piece === i && picked.point === j);
      choose(...all[now < 0 ? (by > 0 ? 0 : all.length - 1) : (now + by + all.length) % all.length]);
    }

    /* Moves the chosen point, or else the cross; `pixels` are pixels of the screen. */
    function nudge([dx, dy], pixels) {
      const by = pixels * unit();
      const moved = inside([cross[0] + dx * by, cross[1] + dy * by]);
      if (pointPicked()) {
        remember();
        pieces[picked.piece].points[picked.point] = moved;
        write();
      }
      cross = moved;
      follow(cross);
      draw();
    }

    function zoomTo(zoom) {
      const centre = pointPicked() ?? (document.activeElement === stage ? cross : [view.x + width / view.zoom / 2, view.y + height / view.zoom / 2]);
      view.zoom = Math.min(16, Math.max(1, zoom));
      view.x = centre[0] - width / view.zoom / 2;
      view.y = centre[1] - height / view.zoom / 2;
      draw();
      tell(view.zoom === 1 ? 'The whole photo is shown.' : `Shown ${view.zoom} times as large.`);
    }

    function pan([dx, dy]) {
      view.x += dx * (width / view.zoom) / 4;
      view.y += dy * (height / view.zoom) / 4;
      draw();
    }

    window.outlinePointer(stage, {
      unit, draw, add, close, choose, open, apart,
      nearest(at) {
        let best = null;
        pieces.forEach((piece, i) => piece.points.forEach((p, j) => {
          const far = apart(p, at) / unit();
          if (far <= NEAR && (!best || far < best.far)) best = { piece: i, point: j, far };
        }));
        return best;
      },
      drag(target, at, begins) {
        if (begins) remember();
        pieces[target.piece].points[target.point] = cross = inside(at);
        draw();
      },
      dropped: () => change('Point moved.'),
      stroke: (points) => add(simplified(points, STROKE_ERROR * unit())),
      strokeFrom: STROKE_FROM,
      isOpenStart: (hit) => Boolean(open()) && hit.piece === pieces.length - 1 && hit.point === 0 && open().points.length >= 3,
    });

    const KEYS = {
      ' ': () => add([cross]), Enter: close, Delete: removePoint, Backspace: removePoint, u: undo, n: () => step(1), p: () => step(-1),
      '+': () => zoomTo(view.zoom * 2), '=': () => zoomTo(view.zoom * 2), '-': () => zoomTo(view.zoom / 2),
      Escape: () => { picked = null; draw(); tell('No point chosen.'); },
    };
    stage.addEventListener('keydown', (event) => {
      const way = event.key.startsWith('Arrow') ? WAYS[event.key.slice(5)] : null;
      const act = KEYS[event.key];
      if (way) nudge(way, (event.shiftKey ? 10 : 1) * (event.repeat ? 4 : 1));
      else if ((event.ctrlKey || event.metaKey) && event.key === 'z') undo();
      else if (act && !event.ctrlKey && !event.metaKey && !event.altKey) act();
      else return;
      event.preventDefault();
    });
    stage.addEventListener('focus', draw);
    stage.addEventListener('blur', draw);

    const { bar, button } = window.outlineTools(root);
    const roleButtons = Object.fromEntries(Object.entries(ROLES).map(([key, words]) => [key, button(words, () => {
      if (open()) return tell('Close or undo the open outline first.');
      role = key;
      draw();
      tell(`Now drawing: ${words}.`);
    })]));
    bar('Drawing', Object.values(roleButtons));
    bar('Outline', [button('Set a point at the cross', () => add([cross])), button('Close outline', close), button('Undo', undo),
      button('Next point', () => step(1)), button('Delete point', removePoint), button('Delete outline', removePiece)]);
    bar('Cross or point', Object.entries(WAYS).map(([words, way]) => button(words, () => { stage.focus({ preventScroll: true }); nudge(way, 4); }, `Move the cross or the chosen point: ${words}`)));
    bar('View', [button('Larger', () => zoomTo(view.zoom * 2)), button('Smaller', () => zoomTo(view.zoom / 2)), button('Whole photo', () => zoomTo(1)),
      ...Object.entries(WAYS).map(([words, way]) => button(words, () => pan(way), `Look further: ${words}`))]);
    root.append(said);
    const keys = document.createElement('p');
    keys.className = 'outline-keys';
    keys.textContent = 'Tap to set points or draw with a stroke. Keys: arrows move the cross (shift: by 10), space sets a point, enter closes, n and p choose a point, delete removes it, u undoes, + and − zoom.';
    root.append(keys);

    try {
      const filed = JSON.parse(input.value || '{}');
      for (const key of Object.keys(ROLES)) for (const points of filed[key] ?? []) pieces.push({ role: key, points, closed: true });
    } catch { tell('The outline on file could not be read.'); }
    input.form?.addEventListener('submit', () => { if (open()?.points.length >= 3) close(); }, { capture: true });
    new ResizeObserver(draw).observe(stage);
    draw();
  }

  const startAll = () => document.querySelectorAll('[data-outline]').forEach(start);
  startAll();
  document.addEventListener('htmx:after:swap', startAll);
})();
