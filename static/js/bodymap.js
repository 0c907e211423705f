/* A place on the body figure: tap it, or move the mark with the arrow keys (shift: bigger steps). Writes x and y from
   0 to 1 of the figure's box and the view into hidden inputs. Without this script the select of sites does. */
(() => {
  const BOX = { width: 200, height: 440 };
  const START = { x: 0.5, y: 0.3 };
  const STEP = 0.01;
  const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

  const held = (number) => Math.min(1, Math.max(0, number));

  function sideWords(view, x) {
    if (Math.abs(x - 0.5) < 0.03) return 'on the midline';
    const onViewersLeft = x < 0.5;
    return (view === 'front') === onViewersLeft ? 'on the client’s right' : 'on the client’s left';
  }

  function heightWords(y) {
    if (y < 0.15) return 'head';
    if (y < 0.26) return 'neck, shoulders or chest height';
    if (y < 0.42) return 'upper body height';
    if (y < 0.55) return 'hip or hand height';
    if (y < 0.69) return 'thigh height';
    if (y < 0.76) return 'knee height';
    return y < 0.92 ? 'lower leg' : 'foot';
  }

  function start(map) {
    const input = (part) => map.querySelector(`[data-bodymap-${part}]`);
    const said = map.querySelector('[data-bodymap-said]');
    const figures = [...map.querySelectorAll('[data-bodymap-figure]')];

    function put(figure, x, y) {
      const view = figure.dataset.bodymapFigure;
      input('x').value = held(x).toFixed(3);
      input('y').value = held(y).toFixed(3);
      input('view').value = view;
      for (const each of figures) {
        const mark = each.querySelector('[data-bodymap-mark]');
        mark.setAttribute('visibility', each === figure ? 'visible' : 'hidden');
        if (each === figure) mark.setAttribute('transform', `translate(${held(x) * BOX.width} ${held(y) * BOX.height})`);
      }
      said.textContent = `Marked from the ${view}, ${sideWords(view, held(x))}, ${heightWords(held(y))}.`;
      input('view').dispatchEvent(new Event('change', { bubbles: true }));
    }

    const place = (figure) => (input('view').value === figure.dataset.bodymapFigure && input('x').value !== ''
      ? { x: Number(input('x').value), y: Number(input('y').value) } : START);

    for (const figure of figures) {
      figure.setAttribute('tabindex', '0');
      figure.setAttribute('role', 'application');
      figure.setAttribute('aria-label', `Body from the ${figure.dataset.bodymapFigure}. Arrow keys move the mark, with shift in bigger steps.`);
      figure.addEventListener('click', (event) => {
        const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(figure.getScreenCTM().inverse());
        put(figure, at.x / BOX.width, at.y / BOX.height);
      });
      figure.addEventListener('keydown', (event) => {
        const way = ARROWS[event.key];
        const now = place(figure);
        if (way) {
          const step = STEP * (event.shiftKey ? 5 : 1);
          put(figure, now.x + way[0] * step * (BOX.height / BOX.width), now.y + way[1] * step);
        } else if (event.key === ' ' || event.key === 'Enter') put(figure, now.x, now.y);
        else return;
        event.preventDefault();
      });
    }
  }

  document.querySelectorAll('[data-bodymap]').forEach(start);
  document.addEventListener('htmx:after:swap', () => document.querySelectorAll('[data-bodymap]').forEach((map) => {
    if (!map.querySelector('[data-bodymap-figure][tabindex]')) start(map);
  }));
})();
