/* Four corners placed on a photo. The number fields are the form; this draws them on the photo, lets a pointer, the
   buttons or the keys move them, and shows the surroundings of the chosen one enlarged. */
(() => {
  const SVG = 'http://www.w3.org/2000/svg';
  const NEAR = 30;     /* a finger that comes down this close to a corner means that corner */
  const LOUPE_PX = 180;
  const LOUPE_TIMES = 6;
  const WAYS = { Left: [-1, 0], Right: [1, 0], Up: [0, -1], Down: [0, 1] };

  const shape = (name, attributes) => {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  };

  /* The plane projection that carries the unit square to four corners (Heckbert 1989), as a function of u, v. */
  function planeOf([[x0, y0], [x1, y1], [x2, y2], [x3, y3]]) {
    const [dx1, dx2, sx] = [x1 - x2, x3 - x2, x0 - x1 + x2 - x3];
    const [dy1, dy2, sy] = [y1 - y2, y3 - y2, y0 - y1 + y2 - y3];
    const below = dx1 * dy2 - dx2 * dy1;
    if (!below) return null;
    const g = (sx * dy2 - dx2 * sy) / below;
    const h = (dx1 * sy - sx * dy1) / below;
    return (u, v) => {
      const w = g * u + h * v + 1;
      return [((x1 - x0 + g * x1) * u + (x3 - x0 + h * x3) * v + x0) / w, ((y1 - y0 + g * y1) * u + (y3 - y0 + h * y3) * v + y0) / w];
    };
  }

  function start(root) {
    const form = root.closest('form');
    const [width, height] = [Number(root.dataset.photoWidth), Number(root.dataset.photoHeight)];
    const img = root.querySelector('img');
    const fields = [1, 2, 3, 4].map((n) => ['x', 'y'].map((axis) => form.elements[`${axis}${n}`]));
    let chosen = 0;
    let view = { x: 0, y: 0, zoom: 1 };

    const stage = shape('svg', { class: 'outline-stage', tabindex: '0', role: 'application', 'aria-describedby': 'corner_keys', 'aria-label': `${img.alt}. Arrow keys move the chosen corner.` });
    const lines = shape('g', {});
    stage.append(shape('image', { href: img.getAttribute('src'), width, height }), lines);
    stage.style.aspectRatio = `${width} / ${height}`;
    const loupe = shape('svg', { class: 'corner-loupe', role: 'img', 'aria-label': 'The surroundings of the chosen corner, enlarged', width: LOUPE_PX, height: LOUPE_PX });
    const seen = shape('g', {});
    loupe.append(shape('image', { href: img.getAttribute('src'), width, height }), seen);
    img.hidden = true;
    img.after(stage, loupe);

    const said = document.createElement('p');
    said.className = 'outline-said';
    said.setAttribute('role', 'status');
    const unit = () => 1 / (stage.getScreenCTM()?.a || 1);
    const names = root.dataset.names.split('|');
    const what = form.elements.what;
    const grids = JSON.parse(root.dataset.grids);
    const number = (field) => (field.value.trim() === '' ? NaN : Number(field.value.replace(',', '.')));
    const at = (n) => fields[n].map(number);
    const isPlaced = (n) => at(n).every(Number.isFinite);
    const inside = ([x, y]) => [Math.min(width, Math.max(0, x)), Math.min(height, Math.max(0, y))];
    const tell = () => { said.textContent = `${names[chosen]}: ${at(chosen).map((v) => Math.round(v)).join(' across, ')} down.`; };

    function put(n, point) {
      inside(point).forEach((value, axis) => { fields[n][axis].value = String(Math.round(value * 10) / 10); });
      draw();
    }

    function grid(points) {
      const [columns, rows] = grids[what.value] ?? [];
      const plane = columns && planeOf(points);
      if (!plane) return;
      const side = 0.22;
      for (let row = 0; row < rows; row += 1) for (let column = 0; column < columns; column += 1) {
        /* Patches and gaps: a gap is a tenth of the way from one patch to the next. */
        const middle = (n, of) => (n + 0.45) / (of - 0.1);
        const half = [side / (columns - 0.1), side / (rows - 0.1)];
        const [u, v] = [middle(column, columns), middle(row, rows)];
        const box = [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([i, j]) => plane(u + i * half[0], v + j * half[1]).join(' '));
        lines.append(shape('path', { d: `M${box.join('L')}Z`, class: 'corner-patch-under' }), shape('path', { d: `M${box.join('L')}Z`, class: 'corner-patch' }));
      }
    }

    function draw() {
      const [w, h] = [width / view.zoom, height / view.zoom];
      view.x = Math.min(width - w, Math.max(0, view.x));
      view.y = Math.min(height - h, Math.max(0, view.y));
      stage.setAttribute('viewBox', `${view.x} ${view.y} ${w} ${h}`);
      lines.replaceChildren();
      const u = unit();
      const points = [0, 1, 2, 3].filter(isPlaced).map(at);
      if (points.length === 4) {
        const d = `M${points.map((p) => p.join(' ')).join('L')}Z`;
        lines.append(shape('path', { d, class: 'outline-under' }), shape('path', { d, class: 'outline-over' }));
        grid(points);
      }
      [0, 1, 2, 3].filter(isPlaced).forEach((n) => {
        const [x, y] = at(n);
        lines.append(shape('circle', { cx: x, cy: y, r: (n === chosen ? 9 : 7) * u, class: `outline-vertex${n === chosen ? ' selected' : ''}` }));
        const label = shape('text', { x, y: y + 4.5 * u, 'font-size': 13 * u, 'text-anchor': 'middle', class: n === chosen ? 'corner-number selected' : 'corner-number' });
        label.textContent = String(n + 1);
        lines.append(label);
      });
      const [x, y] = isPlaced(chosen) ? at(chosen) : [width / 2, height / 2];
      const shown = (LOUPE_PX * u) / LOUPE_TIMES;
      loupe.setAttribute('viewBox', `${x - shown / 2} ${y - shown / 2} ${shown} ${shown}`);
      /* The loupe gives way to the corner it shows. */
      loupe.classList.toggle('at-left', x > view.x + w * 0.55 && y < view.y + h * 0.5);
      const cross = `M${x - shown / 2} ${y}h${shown}M${x} ${y - shown / 2}v${shown}`;
      seen.replaceChildren(shape('path', { d: cross, class: 'outline-under' }), shape('path', { d: cross, class: 'corner-cross' }));
      choosers.forEach((button, n) => button.setAttribute('aria-pressed', String(n === chosen)));
    }

    function choose(n) {
      chosen = (n + 4) % 4;
      if (isPlaced(chosen) && view.zoom > 1) [view.x, view.y] = [at(chosen)[0] - width / view.zoom / 2, at(chosen)[1] - height / view.zoom / 2];
      draw();
      tell();
    }

    function nudge([dx, dy], px) {
      const [x, y] = isPlaced(chosen) ? at(chosen) : [width / 2, height / 2];
      put(chosen, [x + dx * px * unit(), y + dy * px * unit()]);
      tell();
    }

    function zoomTo(zoom) {
      const [x, y] = isPlaced(chosen) ? at(chosen) : [width / 2, height / 2];
      view.zoom = Math.min(16, Math.max(1, zoom));
      [view.x, view.y] = [x - width / view.zoom / 2, y - height / view.zoom / 2];
      draw();
    }

    const button = (words, act, spoken = '') => {
      const made = Object.assign(document.createElement('button'), { type: 'button', className: 'button plain', textContent: words });
      if (spoken) made.setAttribute('aria-label', spoken);
      made.addEventListener('click', act);
      return made;
    };
    const bar = (words, buttons) => {
      const group = Object.assign(document.createElement('div'), { className: 'outline-tools' });
      group.setAttribute('role', 'group');
      group.setAttribute('aria-label', words);
      const held = Object.assign(document.createElement('div'), { className: 'outline-buttons' });
      held.append(...buttons);
      group.append(Object.assign(document.createElement('span'), { className: 'words', textContent: words }), held);
      root.querySelector('.well').before(group);
    };
    const choosers = [0, 1, 2, 3].map((n) => button(String(n + 1), () => choose(n), `${n + 1}, ${names[n]}`));
    bar('Corner', choosers);
    bar('Move it', Object.entries(WAYS).map(([words, way]) => button(words, () => nudge(way, 1), `Move the chosen corner: ${words}`)));
    bar('View', [button('Larger', () => zoomTo(view.zoom * 2)), button('Smaller', () => zoomTo(view.zoom / 2)), button('Whole photo', () => zoomTo(1))]);

    let held = null;
    const pointed = (event) => {
      const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(stage.getScreenCTM().inverse());
      return [p.x, p.y];
    };
    stage.addEventListener('pointerdown', (event) => {
      if (!event.isPrimary || event.button > 0) return;
      stage.setPointerCapture(event.pointerId);
      const here = pointed(event);
      const far = [0, 1, 2, 3].map((n) => (isPlaced(n) ? Math.hypot(at(n)[0] - here[0], at(n)[1] - here[1]) / unit() : Infinity));
      const near = far.indexOf(Math.min(...far));
      if (far[near] <= NEAR) chosen = near;
      /* A finger hides what it points at: the corner keeps its place under it and moves as far as the finger does. */
      held = { from: here, corner: far[near] <= NEAR ? at(chosen) : here };
      put(chosen, held.corner);
    });
    stage.addEventListener('pointermove', (event) => {
      if (!held || !event.isPrimary) return;
      const here = pointed(event);
      put(chosen, [held.corner[0] + here[0] - held.from[0], held.corner[1] + here[1] - held.from[1]]);
    });
    for (const kind of ['pointerup', 'pointercancel']) stage.addEventListener(kind, () => { if (held) tell(); held = null; });

    const KEYS = {
      n: () => choose(chosen + 1), p: () => choose(chosen - 1),
      1: () => choose(0), 2: () => choose(1), 3: () => choose(2), 4: () => choose(3),
      '+': () => zoomTo(view.zoom * 2), '=': () => zoomTo(view.zoom * 2), '-': () => zoomTo(view.zoom / 2),
    };
    stage.addEventListener('keydown', (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const way = event.key.startsWith('Arrow') ? WAYS[event.key.slice(5)] : null;
      if (way) nudge(way, event.shiftKey ? 10 : 1);
      else if (KEYS[event.key]) KEYS[event.key]();
      else return;
      event.preventDefault();
    });

    root.append(said);
    const keys = document.createElement('p');
    keys.className = 'small soft';
    keys.id = 'corner_keys';
    keys.textContent = 'Drag a corner, or choose one and move it. Keys: 1 to 4, n and p choose a corner, arrows move it (shift: by 10), + and − zoom.';
    root.append(keys);
    form.addEventListener('input', draw);
    form.addEventListener('change', draw);
    new ResizeObserver(draw).observe(stage);
    draw();
  }

  document.querySelectorAll('[data-corners]').forEach(start);
})();
