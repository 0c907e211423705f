/* Sends one photo in pieces. When the network is lost it waits, asks what arrived, and goes on from there by itself.
   Nothing is put into the browser's storage: a page that is closed in the middle has sent nothing. */
const RETRY_MS = [1000, 2000, 4000, 8000, 15000];
const PATIENCE_MS = 120000; /* a piece on a very slow phone network */

class Lost extends Error {} /* no answer: worth trying again */

const pause = (ms) => new Promise((resolve) => {
  const timer = setTimeout(go, ms);
  function go() {
    clearTimeout(timer);
    removeEventListener('online', go);
    resolve();
  }
  addEventListener('online', go);
});

/* `crypto.randomUUID` needs HTTPS; random bytes do not. */
function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
}

/* The sum by which the server knows that nothing changed on its way; only where the browser gives it (HTTPS). */
async function sumOf(blob) {
  if (!crypto.subtle) return '';
  const sum = new Uint8Array(await crypto.subtle.digest('SHA-256', await blob.arrayBuffer()));
  return [...sum].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}

/* One request: its JSON; throws Lost when it is worth trying again, else an Error whose message is for who sends. */
async function ask(address, how = {}) {
  let answer;
  try {
    answer = await fetch(address, { redirect: 'manual', cache: 'no-store', signal: AbortSignal.timeout(PATIENCE_MS), ...how });
  } catch {
    throw new Lost();
  }
  if (answer.status >= 500 || answer.status === 429) throw new Lost();
  if (answer.type === 'opaqueredirect' || answer.status === 401) {
    throw new Error('You are signed out. Sign in again in another tab, then send it again here.');
  }
  let said = {};
  try { said = await answer.json(); } catch { if (answer.ok) throw new Lost(); }
  if (answer.status === 409) return { again: true, ...said };
  if (answer.ok) return said;
  throw new Error(said.error ?? (answer.status === 413 ? 'The photo is too large.' : 'The photo was not taken. Open this page again.'));
}

function formOf(fields) {
  return { method: 'POST', body: new URLSearchParams(fields) };
}

/* From wherever it stands to the end, for as long as there are answers. */
async function goOn(state, file, tell) {
  if (!state.begun) state.begun = await ask(`/zones/${state.zone}/uploads`, formOf({ ...state.about, key: state.key, name: file.name ?? '', size: file.size }));
  else if (!state.begun.photo) state.begun = await ask(`/uploads/${state.begun.upload}`);
  while (!state.begun.photo) {
    const { upload, piece_size: size, pieces, have } = state.begun;
    const there = new Set(have);
    for (let number = 0; number < pieces; number += 1) {
      if (there.has(number)) continue;
      tell(`${Math.round((100 * there.size) / pieces)} % is sent.`, there.size / pieces);
      const body = file.slice(number * size, (number + 1) * size);
      await ask(`/uploads/${upload}/pieces/${number}`, { method: 'POST', body, headers: { 'Content-Type': 'application/octet-stream' } });
      there.add(number);
    }
    tell('All of it is sent. Being taken in.', 1);
    const ended = await ask(`/uploads/${upload}/done`, formOf({ sha256: state.sum }));
    if (ended.again && (state.rounds += 1) > 2) throw new Error('The photo arrives damaged each time. Choose it again.');
    state.begun = { ...state.begun, ...ended };
  }
  return state.begun.photo;
}

/* Sends a photo of a zone; gives its number once it is on file. `about`: purpose, frame, taken_on, chaperone.
   `tell(words, share, isLost)` is called with how far it is; an Error that is thrown has words for who sends. */
export async function sendPhoto(zone, file, about, tell = () => {}) {
  let sum = '';
  try {
    sum = await sumOf(file);
  } catch {
    throw new Error('The file cannot be read any more. Choose it again.');
  }
  const state = { zone, about, key: newKey(), sum, rounds: 0, begun: null };
  for (let failures = 0, before = null; ; ) {
    try {
      return await goOn(state, file, (words, share) => {
        if (share !== before) failures = 0; /* it moved: patience begins anew */
        before = share;
        tell(words, share, false);
      });
    } catch (error) {
      if (!(error instanceof Lost)) throw error;
      tell('No network. It goes on by itself when the network is back.', before ?? 0, true);
      await pause(RETRY_MS[Math.min(failures, RETRY_MS.length - 1)]);
      failures += 1;
    }
  }
}
