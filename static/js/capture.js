/* Guided capture: the camera's live picture with the last one faintly over it, one press for each frame, and what is in
   view told in words. A picture is sent only after it was looked at and kept; nothing lies on the device afterwards. */
import { sendPhoto } from './upload.js';

const form = document.querySelector('[data-capture]');
const find = (name) => form.querySelector(`[data-${name}]`);
const LOOK_EVERY_MS = 1500;
const LOOKED_SIDE_PX = 640;
const PATIENCE_MS = 8000; /* some cameras never answer: then the live picture is taken instead */

const video = find('live');
const ghost = find('ghost');
const held = find('held');
const strength = form.querySelector('#ghost_strength');
const lens = form.querySelector('#lens');
const isHidden = form.dataset.hidden === 'yes';
let stream = null;
let taken = null; /* the picture just taken: {blob, frame} */
let waiting = 0; /* pictures on their way */

const say = (words, isFault = false) => {
  const said = find('said');
  said.textContent = words;
  said.classList.toggle('unsent', isFault);
};
const frame = () => form.querySelector('[name=frame]:checked');
const nameOf = (input) => input.parentElement.querySelector('.tap-words').firstChild.textContent.trim();

/* The last picture like this one. A hidden one is fetched only when somebody asks to see it. */
function layGhost() {
  const { last, lastWords } = frame().dataset;
  find('shutter').textContent = `Take the picture: ${nameOf(frame()).toLowerCase()}`;
  const isOn = find('ghost-on').checked;
  find('ghost-words').textContent = last ? (isOn ? lastWords : '') : 'There is no earlier picture like this one.';
  find('ghost-strength').hidden = !last || !isOn;
  ghost.hidden = !last || !isOn || taken !== null;
  if (last && isOn) {
    const address = isHidden ? `${last}?open=1` : last;
    if (ghost.getAttribute('src') !== address) ghost.src = address;
  } else {
    ghost.removeAttribute('src');
  }
}

function setStrength() {
  ghost.style.opacity = String(strength.value / 100);
  strength.setAttribute('aria-valuetext', `${strength.value} per cent`);
}

/* The camera. */
const REFUSED = {
  NotAllowedError: 'The camera was not allowed. Allow it for this page in the browser, or use the fields below.',
  NotFoundError: 'No camera was found. Use the fields below.',
  NotReadableError: 'The camera is busy in another app. Close that, then open it again.',
};

async function open(deviceId = '') {
  close();
  say('');
  const wished = deviceId ? { deviceId: { exact: deviceId } } : { facingMode: { ideal: 'environment' } };
  try {
    /* The shape of the still, so that the live picture shows what it will hold. */
    const size = { width: { ideal: 4096 }, height: { ideal: 3072 }, aspectRatio: { ideal: 4 / 3 } };
    stream = await navigator.mediaDevices.getUserMedia({ audio: false, video: { ...wished, ...size } });
  } catch (error) {
    say(REFUSED[error.name] ?? 'The camera could not be opened. Use the fields below.', true);
    return;
  }
  video.srcObject = stream;
  await video.play().catch(() => {});
  find('closed').hidden = true;
  find('opened').hidden = false;
  await listLenses();
  layGhost();
  find('shutter').focus({ preventScroll: true });
  find('camera').scrollIntoView(); /* words, picture and shutter together on a tablet that lies down */
}

function close() {
  for (const track of stream?.getTracks() ?? []) track.stop();
  stream = null;
  video.srcObject = null;
  find('opened').hidden = true;
  find('closed').hidden = false;
}

async function listLenses() {
  const cameras = (await navigator.mediaDevices.enumerateDevices()).filter((each) => each.kind === 'videoinput');
  const now = stream.getVideoTracks()[0].getSettings().deviceId;
  lens.replaceChildren(...cameras.map((each, index) => new Option(each.label || `Camera ${index + 1}`, each.deviceId)));
  lens.value = now;
  find('lenses').hidden = cameras.length < 2;
}

/* One picture, as large as the camera gives it and without its flash. */
async function still() {
  const track = stream.getVideoTracks()[0];
  if ('ImageCapture' in window) {
    try {
      const camera = new ImageCapture(track);
      const can = await camera.getPhotoCapabilities();
      const wish = {};
      if (can.fillLightMode?.includes('off')) wish.fillLightMode = 'off';
      if (can.imageWidth?.max) Object.assign(wish, { imageWidth: can.imageWidth.max, imageHeight: can.imageHeight.max });
      const late = new Promise((_, refuse) => { setTimeout(() => refuse(new Error('late')), PATIENCE_MS); });
      return await Promise.race([camera.takePhoto(wish), late]);
    } catch { /* the live picture serves, at its own size */ }
  }
  return drawn(video.videoWidth, 0.95);
}

function drawn(width, quality) {
  const canvas = document.createElement('canvas');
  canvas.width = width;
  canvas.height = Math.round((width * video.videoHeight) / video.videoWidth);
  canvas.getContext('2d').drawImage(video, 0, 0, canvas.width, canvas.height);
  return new Promise((resolve) => { canvas.toBlob(resolve, 'image/jpeg', quality); });
}

/* What has to be said before the first picture. */
function missing() {
  if (!form.querySelector('[name=purpose]:checked')) return ['f_purpose', 'Say first what the pictures show.'];
  const chaperone = form.elements.chaperone;
  return chaperone && !chaperone.value.trim() ? ['f_chaperone', 'Say first who else is in the room.'] : null;
}

async function take() {
  const gap = missing();
  if (gap) {
    const field = document.getElementById(gap[0]);
    say(gap[1], true);
    (field.matches('fieldset') ? field.querySelector('input') : field).focus();
    return;
  }
  const shutter = find('shutter');
  if (shutter.getAttribute('aria-disabled') === 'true') return;
  shutter.setAttribute('aria-disabled', 'true'); /* not disabled: the keyboard keeps its place */
  say('Taking the picture. Hold still.');
  try {
    taken = { blob: await still(), frame: frame() };
    held.src = URL.createObjectURL(taken.blob);
    show(true);
    say('Look at it: keep it, or take it again.');
    find('send').focus({ preventScroll: true });
  } catch {
    say('The picture could not be taken. Try again, or use the fields below.', true);
  } finally {
    shutter.removeAttribute('aria-disabled');
  }
}

function show(isHeld) {
  if (!isHeld && held.src) {
    URL.revokeObjectURL(held.src);
    held.removeAttribute('src');
    taken = null;
  }
  held.hidden = !isHeld;
  find('shutter').hidden = isHeld;
  find('send').hidden = !isHeld;
  find('again').hidden = !isHeld;
  layGhost();
}

function again() {
  show(false);
  say('');
  find('shutter').focus({ preventScroll: true });
}

function next(after) {
  const all = [...form.querySelectorAll('[name=frame]')];
  const open = all.slice(all.indexOf(after) + 1).find((each) => each.value !== 'oblique');
  if (open && frame() === after) open.checked = true;
}

function keep() {
  const picture = taken;
  next(picture.frame);
  again();
  return send(picture);
}

async function send({ blob, frame: kept }) {
  const state = kept.parentElement.querySelector('[data-state]');
  const name = nameOf(kept);
  const about = { frame: kept.value, purpose: form.elements.purpose.value, chaperone: form.elements.chaperone?.value ?? '' };
  waiting += 1;
  state.textContent = 'On its way.';
  say(`${name}: on its way.`);
  try {
    await sendPhoto(form.dataset.zone, blob, about, (words) => { state.textContent = words; });
    state.textContent = 'Taken and kept.';
    say(`${name}: kept.`);
    find('done').hidden = false;
  } catch (error) {
    state.textContent = 'Not kept.';
    say(`${name} was not kept: ${error.message}`, true);
    offerAgain({ blob, frame: kept }, name);
  } finally {
    waiting -= 1;
  }
}

/* A picture that was refused stays in hand: the client may be dressed again by the time it is missed. */
function offerAgain(picture, name) {
  const button = document.createElement('button');
  button.type = 'button';
  button.className = 'button plain';
  button.textContent = `Send it again: ${name.toLowerCase()}`;
  button.addEventListener('click', () => {
    button.remove();
    find('shutter').focus({ preventScroll: true });
    send(picture);
  });
  find('unsent').append(button);
}

/* What is in view, told beside the picture each time and aloud only when it stays and is new. */
let before = '';
async function look() {
  if (!stream || taken || document.hidden || !video.videoWidth) return;
  const side = Math.max(video.videoWidth, video.videoHeight);
  const blob = await drawn(Math.round(video.videoWidth * Math.min(1, LOOKED_SIDE_PX / side)), 0.8);
  const answer = await fetch(`/zones/${form.dataset.zone}/looking?frame=${frame().value}`, {
    method: 'POST', body: blob, headers: { 'Content-Type': 'image/jpeg' }, redirect: 'error',
  });
  if (!answer.ok) return;
  const { busy, words } = await answer.json();
  if (busy || !words) return;
  find('words').textContent = words;
  if (words === before && find('told').textContent !== words) find('told').textContent = words;
  before = words;
}
async function keepLooking() {
  try { await look(); } catch { /* no connection: the next look tells */ }
  setTimeout(keepLooking, LOOK_EVERY_MS);
}

function start() {
  if (!window.isSecureContext || !navigator.mediaDevices?.getUserMedia) {
    const words = find('no-camera');
    words.textContent = 'A live picture with the last one over it needs HTTPS: open this page by the studio’s https:// address. Until then use the fields below.';
    words.hidden = false;
    return;
  }
  find('camera').hidden = false;
  find('open').addEventListener('click', () => open());
  find('close').addEventListener('click', () => { close(); find('open').focus(); });
  find('shutter').addEventListener('click', take);
  find('send').addEventListener('click', keep);
  find('again').addEventListener('click', again);
  find('ghost-on').addEventListener('change', layGhost);
  strength.addEventListener('input', setStrength);
  lens.addEventListener('change', () => open(lens.value));
  for (const each of form.querySelectorAll('[name=frame]')) each.addEventListener('change', layGhost);
  addEventListener('pagehide', close);
  addEventListener('beforeunload', (event) => { if (waiting || taken || find('unsent').children.length) event.preventDefault(); });
  setStrength();
  keepLooking();
}

start();
