/* The outline tool's buttons, and what a finger, a pen or a mouse does on its photo. Loaded before outline.js. */
(() => {
  window.outlineTools = (root) => ({
    button(words, act, spoken = '') {
      const made = document.createElement('button');
      made.type = 'button';
      made.className = 'button plain';
      made.textContent = words;
      if (spoken) made.setAttribute('aria-label', spoken);
      made.addEventListener('click', act);
      return made;
    },
    bar(words, buttons) {
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
      root.querySelector('.well').before(group);
      return group;
    },
  });

  /* A touch that stays put is a tap: it sets a point, closes at the first point, or chooses a point of a closed outline.
     One that starts on a point drags it; any other that moves is a freehand stroke. */
  window.outlinePointer = (stage, tool) => {
    let held = null;
    const at = (event) => {
      const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(stage.getScreenCTM().inverse());
      return [p.x, p.y];
    };

    stage.addEventListener('pointerdown', (event) => {
      if (!event.isPrimary || event.button > 0) return;
      stage.setPointerCapture(event.pointerId);
      const near = tool.nearest(at(event));
      /* While an outline is open, points may lie close together: only a touch right on one (8 px) is meant for it. */
      const hit = near && tool.open() && !tool.isOpenStart(near) && near.far >= 8 ? null : near;
      held = { points: [at(event)], hit, moved: false };
    });
    stage.addEventListener('pointermove', (event) => {
      if (!held || !event.isPrimary) return;
      const now = at(event);
      if (!held.moved && tool.apart(now, held.points[0]) / tool.unit() < tool.strokeFrom) return;
      const begins = !held.moved;
      held.moved = true;
      if (held.hit && !tool.isOpenStart(held.hit)) tool.drag(held.hit, now, begins);
      else held.points.push(...(event.getCoalescedEvents?.() ?? [event]).map(at));
    });
    stage.addEventListener('pointerup', (event) => {
      if (!held || !event.isPrimary) return;
      const { points, hit, moved } = held;
      held = null;
      if (moved && hit && !tool.isOpenStart(hit)) return tool.dropped();
      if (moved) {
        tool.stroke(points);
        const end = tool.nearest(points[points.length - 1]);
        return end && tool.isOpenStart(end) ? tool.close() : undefined;
      }
      if (hit && tool.isOpenStart(hit)) return tool.close();
      if (hit) return tool.choose(hit.piece, hit.point);
      tool.add([points[0]]);
    });
    stage.addEventListener('pointercancel', () => { held = null; tool.draw(); });
  };
})();
