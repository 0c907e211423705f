/* Before and after of one place: side by side, one over the other with a slider, or in turns. The slider is a native
   range input, so it works with a finger, a pointer and the arrow keys. */
(() => {
  const button = (words, act) => {
    const made = document.createElement('button');
    made.type = 'button';
    made.className = 'button plain';
    made.textContent = words;
    made.addEventListener('click', act);
    return made;
  };

  function start(root, index) {
    if (root.dataset.wipeReady) return;
    root.dataset.wipeReady = 'yes';
    const pair = root.querySelector('.compare-pair');
    const [before, after] = [...pair.querySelectorAll('figure')];
    const words = [before, after].map((figure) => figure.querySelector('figcaption').textContent.trim());

    const over = document.createElement('div');
    over.hidden = true;
    over.innerHTML = `<div class="well"><div class="compare-stage"></div></div>
      <div class="compare-slide"><span></span><input type="range" min="0" max="100" value="50"><span></span></div>`;
    const stage = over.querySelector('.compare-stage');
    const [under, top] = [before, after].map((figure) => stage.appendChild(figure.querySelector('img').cloneNode()));
    const slide = over.querySelector('.compare-slide');
    const range = slide.querySelector('input');
    range.setAttribute('aria-label', 'Where the second photo begins');
    slide.firstElementChild.textContent = words[0];
    slide.lastElementChild.textContent = words[1];

    const said = document.createElement('p');
    said.className = 'compare-said';
    said.setAttribute('role', 'status');

    const wipe = () => {
      top.style.clipPath = `inset(0 0 0 ${range.value}%)`;
      range.setAttribute('aria-valuetext', `${range.value} per cent ${words[0]}, the rest ${words[1]}`);
    };
    range.addEventListener('input', wipe);

    function show(kind) {
      pair.hidden = kind !== 'beside';
      over.hidden = kind === 'beside';
      slide.hidden = kind !== 'wipe';
      for (const [name, made] of Object.entries(buttons)) made.setAttribute('aria-pressed', String(name === kind));
      said.textContent = '';
      if (kind === 'wipe') wipe();
      if (kind === 'turns') turn();
    }

    /* In turns means one press, one change: nothing on the page flashes by itself. */
    let second = false;
    function turn() {
      second = !second;
      top.style.clipPath = second ? 'none' : 'inset(0 0 0 100%)';
      said.textContent = `Showing: ${words[second ? 1 : 0]}`;
    }

    const buttons = {
      beside: button('Side by side', () => show('beside')),
      wipe: button('One over the other', () => show('wipe')),
      turns: button('In turns', () => (buttons.turns.getAttribute('aria-pressed') === 'true' ? turn() : show('turns'))),
    };
    const tools = document.createElement('div');
    tools.className = 'compare-tools';
    tools.setAttribute('role', 'group');
    tools.setAttribute('aria-label', `How to compare, pair ${index + 1}`);
    tools.append(...Object.values(buttons));
    root.prepend(tools);
    root.append(over, said);
    under.alt = words[0];
    top.alt = words[1];
    show('beside');
  }

  const startAll = () => document.querySelectorAll('[data-wipe]').forEach(start);
  startAll();
  document.addEventListener('htmx:after:swap', startAll);
})();
