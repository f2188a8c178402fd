// The scan as it lay on the glass: the frame's corners to drag, unexposed places to point at.

import { picture } from './api.js';
import { Round, paint } from './paint.js';
import { choose, onChange, state } from './state.js';

const MOST = 1300, LENS = 60;
const bed = document.getElementById('bed'), canvas = document.getElementById('bed-picture');
const marks = document.getElementById('bed-marks'), lens = document.querySelector('#lens canvas');
const pointing = document.getElementById('pointing'), said = document.getElementById('corner-words');
const round = new Round(), lensRound = new Round();
let corners = [], handles = [], shownScan = -1;

const isShown = () => !document.getElementById('sheet').hidden;
const frame = () => (Array.isArray(state.choices.corners) ? state.choices.corners : state.facts.frame.corners_px);

// px of the upright scan to per cent of the picture, and a pointer's place back.
const across = ([x, y]) => [100 * x / state.scanSize[0], 100 * y / state.scanSize[1]];
function placeOf(event) {
  const box = bed.getBoundingClientRect(), [w, h] = state.scanSize;
  const x = (event.clientX - box.left) / box.width * w, y = (event.clientY - box.top) / box.height * h;
  return [Math.min(Math.max(x, 0), w), Math.min(Math.max(y, 0), h)].map((v) => Math.round(v * 100) / 100);
}

function drawMarks() {
  const outline = (points, style) => `<polygon points="${points.map((p) => across(p).join(',')).join(' ')}" ${style}/>`;
  const ring = 'fill="none" vector-effect="non-scaling-stroke"';
  const spots = Array.isArray(state.choices.unexposed) ? state.choices.unexposed : [];
  marks.setAttribute('viewBox', '0 0 100 100');
  marks.setAttribute('preserveAspectRatio', 'none');
  marks.innerHTML = outline(corners, `${ring} stroke="#fff" stroke-width="4"`) +
    outline(corners, `${ring} stroke="#000" stroke-width="1.6" stroke-dasharray="7 5"`) +
    spots.map((p) => { const [x, y] = across(p);
      return `<path d="M${x - 1} ${y}H${x + 1}M${x} ${y - 1}V${y + 1}" ${ring} stroke="#fff" stroke-width="5"/>` +
        `<path d="M${x - 1} ${y}H${x + 1}M${x} ${y - 1}V${y + 1}" ${ring} stroke="#000" stroke-width="2"/>`; }).join('');
  handles.forEach((handle, i) => {
    const [x, y] = across(corners[i]);
    handle.style.left = `${x}%`;
    handle.style.top = `${y}%`;
  });
}

async function look([x, y]) {
  const [w, h] = state.scanSize, side = Math.min(LENS, w, h);
  const part = [Math.min(Math.max(x - side / 2, 0), w - side), Math.min(Math.max(y - side / 2, 0), h - side), side, side]
    .map(Math.floor);
  const signal = lensRound.begin();
  try {
    const shown = await picture('scan', { scan: state.scan, part, most: LENS }, signal);
    if (!signal.aborted) { lens.shown = shown; paint(lens, shown); }
  } catch (error) {
    if (error.name !== 'AbortError') throw error;
  }
  lens.style.width = lens.style.height = '240px';
}

const settle = () => choose({ corners: corners.map((point) => point.map((v) => Math.round(v * 100) / 100)) });

function nudge(i, event) {
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  if (event.key === 'Enter') { settle(); return; }
  if (!way) return;
  event.preventDefault();
  const by = event.shiftKey ? 10 : 1;
  corners[i] = [corners[i][0] + way[0] * by, corners[i][1] + way[1] * by];
  drawMarks();
  look(corners[i]);
  said.textContent = `Corner ${i + 1} at ${corners[i].map((v) => v.toFixed(1)).join(', ')}. Enter takes it.`;
}

function grab(i, handle, event) {
  if (pointing.checked) return;
  handle.setPointerCapture(event.pointerId);
  const move = (e) => { corners[i] = placeOf(e); drawMarks(); };
  const end = () => {
    handle.removeEventListener('pointermove', move);
    look(corners[i]);
    settle();
  };
  handle.addEventListener('pointermove', move);
  handle.addEventListener('pointerup', end, { once: true });
}

function buildHandles() {
  handles = [0, 1, 2, 3].map((i) => {
    const handle = document.createElement('button');
    handle.type = 'button';
    handle.setAttribute('aria-label', `Corner ${i + 1} of the frame; arrow keys move it, Enter takes it`);
    handle.addEventListener('pointerdown', (event) => grab(i, handle, event));
    handle.addEventListener('keydown', (event) => nudge(i, event));
    handle.addEventListener('focus', () => look(corners[i]));
    bed.append(handle);
    return handle;
  });
}

function point(event) {
  if (!pointing.checked || event.target.tagName === 'BUTTON') return;
  const old = Array.isArray(state.choices.unexposed) ? state.choices.unexposed : [];
  choose({ unexposed: [...old, placeOf(event)].slice(-8) });
}

export async function draw() {
  if (!isShown()) return;
  corners = frame().map((p) => [...p]);
  drawMarks();
  const notes = state.facts.notes.map((note) => {
    const item = document.createElement('li');
    item.textContent = note.replace(/^[a-z-]+: /, '');
    return item;
  });
  document.getElementById('notes').replaceChildren(...notes);
  const { frame: found, tilt_deg: tilt } = state.facts;
  said.textContent = `Frame ${found.size_mm.map((v) => v.toFixed(1)).join(' x ')} mm${
    found.name ? ` (${found.name})` : ''}, ${found.origin}, tilt ${tilt?.toFixed(2)} degrees`;
  if (shownScan === state.scan) return;
  if (await round.show([{ canvas, what: 'scan', question: { scan: state.scan, most: MOST } }]))
    shownScan = state.scan;
}

export function start() {
  buildHandles();
  bed.addEventListener('pointerdown', point);
  pointing.addEventListener('change', () => bed.classList.toggle('pointing', pointing.checked));
  document.getElementById('corners-auto').addEventListener('click', () => choose({ corners: 'auto' }));
  document.getElementById('spots-none').addEventListener('click', () => choose({ unexposed: 'none' }));
  onChange((why) => { if (why === 'opened') shownScan = -1; });
}
