// The ring-around: the chosen print and its eight neighbours.

import { Round, paint } from './paint.js';
import { asFraction, choose, onChange, question, state } from './state.js';

const MIDDLE = 900, NEIGHBOUR = 340, COARSEST = 2, FINEST = 0.0625;
const tiles = document.getElementById('tiles'), lost = document.getElementById('lost');
const round = new Round();
const step = { stops: 0.5, grade: 0.5 };
let automatic = 2; // the grade that "auto" came to
let last = null;   // the way of the last step

// Rows from softer above to harder below, columns from darker to lighter.
const places = [];
for (const grade of [-1, 0, 1])
  for (const stops of [-1, 0, 1]) places.push({ stops, grade });

const round4 = (value) => Math.round(value * 1e4) / 1e4;
const held = (value, low, high) => Math.min(Math.max(value, low), high);

function neighbour({ stops, grade }) {
  const choices = {};
  if (stops) choices.stops = round4(held(state.choices.stops + stops * step.stops, -10, 10));
  if (grade) {
    const from = state.choices.grade === 'auto' ? automatic : state.choices.grade;
    choices.grade = round4(held(from + grade * step.grade, -2, 8));
  }
  return choices;
}

function words({ stops, grade }) {
  const said = [];
  if (stops) said.push(`${asFraction(step.stops)} stop ${stops > 0 ? 'lighter' : 'darker'}`);
  if (grade) said.push(`${asFraction(step.grade)} grade ${grade > 0 ? 'harder' : 'softer'}`);
  return said.join(', ') || 'the chosen print';
}

function build() {
  tiles.replaceChildren(...places.map((place) => {
    const button = document.createElement('button'), span = document.createElement('span');
    button.type = 'button';
    button.append(document.createElement('canvas'), span);
    button.classList.toggle('middle', !place.stops && !place.grade);
    button.addEventListener('click', () => take(place));
    return button;
  }));
  tiles.addEventListener('keydown', walk);
}

// Arrow keys go from print to print.
function walk(event) {
  const way = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -3, ArrowDown: 3 }[event.key];
  const at = [...tiles.children].indexOf(document.activeElement);
  if (!way || at < 0) return;
  const to = at + way, sideways = Math.abs(way) === 1;
  if (to < 0 || to > 8 || (sideways && Math.floor(to / 3) !== Math.floor(at / 3))) return;
  event.preventDefault();
  tiles.children[to].focus();
}

function finer(which) {
  for (const name of which) step[name] = Math.max(step[name] / 2, FINEST);
}

// A step back along the way just come, or the middle itself: the choice settles, steps get finer.
async function take(place) {
  const middle = !place.stops && !place.grade;
  if (middle) finer(['stops', 'grade']);
  for (const name of ['stops', 'grade'])
    if (last && place[name] && place[name] === -last[name]) finer([name]);
  const changes = neighbour(place);
  last = middle ? null : place;
  if (middle) await draw();
  else await choose(changes);
  tiles.children[4].focus({ preventScroll: true });
}

function label() {
  [...tiles.children].forEach((button, i) => {
    button.lastChild.textContent = words(places[i]);
    button.setAttribute('aria-label', i === 4 ? `The chosen print, stops ${state.choices.stops}, grade ${
      state.choices.grade}. Take it for finer steps.` : words(places[i]));
  });
  document.getElementById('steps').textContent =
    `Steps: ${asFraction(step.stops)} stop, ${asFraction(step.grade)} grade`;
}

export async function draw() {
  label();
  if (document.getElementById('ring').hidden) return;
  const order = [4, 3, 5, 1, 7, 0, 2, 6, 8];
  const wanted = order.map((i) => ({
    canvas: tiles.children[i].firstChild,
    question: question({ most: i === 4 ? MIDDLE : NEIGHBOUR,
      choices: { ...state.choices, ...neighbour(places[i]) } }),
  }));
  tiles.setAttribute('aria-busy', 'true');
  if (await round.show(wanted, () => lost.checked)) tiles.removeAttribute('aria-busy');
}

export const know = (grade) => { automatic = grade; };

function repaint() {
  document.getElementById('lost-key').hidden = !lost.checked;
  for (const canvas of tiles.querySelectorAll('canvas'))
    if (canvas.shown) paint(canvas, canvas.shown, lost.checked);
}

export function start() {
  build();
  lost.addEventListener('change', repaint);
  document.getElementById('finer').addEventListener('click', () => { finer(['stops', 'grade']); draw(); });
  document.getElementById('coarser').addEventListener('click', () => {
    for (const name of ['stops', 'grade']) step[name] = Math.min(step[name] * 2, COARSEST);
    draw();
  });
  onChange((why) => {
    if (why === 'opened') { Object.assign(step, { stops: 0.5, grade: 0.5 }); last = null; }
  });
}
