/* The form for adding photos, several at once: a line for each with how far it is, and what is wrong beside it.
   Without this script the form sends all of them at once, as forms do. */
import { sendPhoto } from './upload.js';

const form = document.querySelector('[data-uploads]');
const chosen = form.elements.photos;
const list = form.querySelector('[data-upload-list]');
const said = form.querySelector('[data-upload-said]');
const after = form.querySelector('[data-upload-after]');
const button = form.querySelector('button:not([type=button])');
const MOST = 60 * 1024 * 1024;
let waiting = 0; /* photos that are not in yet */

/* Heard and read; said once, however many photos lose the network together. */
function say(words, isFault = false) {
  if (said.textContent !== words) said.textContent = words;
  said.classList.toggle('unsent', isFault);
}

function line(file, number) {
  const item = document.createElement('li');
  const name = document.createElement('p');
  const words = document.createElement('p');
  const bar = document.createElement('progress');
  name.className = 'upload-name';
  name.id = `upload_${number}`;
  name.textContent = file.name;
  bar.max = 1;
  bar.value = 0;
  bar.className = 'way';
  bar.setAttribute('aria-labelledby', name.id);
  words.textContent = 'Waiting for its turn.';
  item.append(name, bar, words);
  list.append(item);
  return {
    tell(text, share, isLost) {
      words.textContent = text;
      words.className = isLost ? 'wait-words' : '';
      bar.value = share;
    },
    fault(text) {
      words.textContent = text;
      words.className = 'stop-words';
      bar.remove();
    },
    kept(photo) {
      const link = document.createElement('a');
      link.href = `/photos/${photo}`;
      link.textContent = `Look at ${file.name}`;
      words.className = '';
      words.replaceChildren('In. ', link);
      bar.value = 1;
    },
  };
}

function about() {
  const fields = {};
  for (const name of ['purpose', 'frame', 'taken_on', 'chaperone']) {
    const value = form.elements[name]?.value;
    if (value) fields[name] = value;
  }
  return fields;
}

async function sendAll(files) {
  const lines = files.map(line);
  const fields = about();
  const kept = [];
  let isLost = false;
  waiting = files.length;
  list.hidden = false;
  say(files.length === 1 ? 'Sending the photo.' : `Sending ${files.length} photos.`);
  for (const [index, file] of files.entries()) {
    try {
      if (file.size > MOST) throw new Error('The photo is larger than 60 megabytes. Send a smaller one.');
      if (!file.size) throw new Error('The file is empty.');
      const photo = await sendPhoto(form.dataset.uploads, file, fields, (words, share, lost) => {
        lines[index].tell(words, share, lost);
        if (lost && !isLost) say('The network is gone. Leave this page open: it goes on by itself.', true);
        if (!lost && isLost) say('The network is back. Going on.');
        isLost = lost;
      });
      lines[index].kept(photo);
      kept.push(photo);
    } catch (error) {
      lines[index].fault(`Not in: ${error.message}`);
    }
    waiting -= 1;
  }
  return kept;
}

function finish(files, kept) {
  const zone = `/zones/${form.dataset.uploads}#photos`;
  if (kept.length === files.length) {
    location.assign(kept.length === 1 ? `/photos/${kept[0]}` : zone);
    return;
  }
  const lost = files.length - kept.length;
  say(`${kept.length} of ${files.length} photos are in. ${lost === 1 ? 'One is not: the reason stands beside it.' : `${lost} are not: the reasons stand beside them.`}`, true);
  after.hidden = false;
  chosen.value = '';
  button.removeAttribute('aria-disabled');
}

form.addEventListener('submit', async (event) => {
  const files = [...chosen.files];
  const chaperone = form.elements.chaperone; /* asked of a sensitive place only */
  const isUnsaid = !form.elements.purpose.value || (chaperone && !chaperone.value.trim());
  if (!files.length || isUnsaid) return; /* the server says what is missing */
  event.preventDefault();
  if (waiting) return; /* pressed twice, it would send twice */
  button.setAttribute('aria-disabled', 'true'); /* not disabled: the keyboard keeps its place */
  list.replaceChildren();
  after.hidden = true;
  finish(files, await sendAll(files));
});

addEventListener('beforeunload', (event) => { if (waiting) event.preventDefault(); });
