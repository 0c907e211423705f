/* What the outline tool asks the studio for: pieces grown from a tap, and a ring of skin around the scar. One request at
   a time; a newer one takes the place of an older. */

let running = null;

export async function askForPieces(address, fields) {
  running?.abort();
  const mine = new AbortController();
  running = mine;
  let answer;
  try {
    answer = await fetch(address, { method: 'POST', body: new URLSearchParams(fields), signal: mine.signal, redirect: 'error' });
  } catch (fault) {
    if (fault.name === 'AbortError') return null;
    throw new Error('The studio did not answer. Try again, or draw by hand.');
  }
  const sent = await answer.json().catch(() => ({}));
  if (running !== mine) return null;
  if (!answer.ok) throw new Error(sent.words ?? 'That did not work. Draw by hand, or load the page again.');
  return sent.pieces;
}
