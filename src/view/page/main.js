// The page's parts put together.

import { tell } from './api.js';
import * as diagram from './diagram.js';
import * as folder from './folder.js';
import * as pair from './pair.js';
import * as ring from './ring.js';
import * as scan from './scan.js';
import { begin, canRedo, canUndo, forOthers, kept, onChange, onTrouble, open, question, redo, state, undo }
  from './state.js';
import * as values from './values.js';

const byId = (id) => document.getElementById(id);
const rooms = { ring, sheet: scan, pair, folder };

const trouble = (words) => { byId('trouble').textContent = words; };
// Whatever a deed throws is said on the page.
const guard = (deed) => async (...given) => {
  try {
    await deed(...given);
  } catch (error) {
    if (error.name !== 'AbortError') trouble(error.message);
  }
};

function go(name) {
  for (const button of document.querySelectorAll('[data-room]'))
    button.setAttribute('aria-pressed', String(button.dataset.room === name));
  for (const id of Object.keys(rooms)) byId(id).hidden = id !== name;
  guard(rooms[name].draw)();
}

function nameSheet() {
  const { name } = state.scans[state.scan];
  const place = byId('place');
  place.textContent = name;
  document.title = `${name}, milori easel`;
  if (state.sheets < 2) return;
  const select = document.createElement('select');
  select.setAttribute('aria-label', 'Which sheet of this scan');
  for (let i = 0; i < state.sheets; i++) select.add(new Option(`sheet ${i + 1} of ${state.sheets}`, i));
  select.value = state.sheet;
  select.addEventListener('change', guard(() => open(state.scan, Number(select.value))));
  place.append(' ', select);
}

async function refresh(why) {
  byId('undo').disabled = !canUndo();
  byId('redo').disabled = !canRedo();
  if (why === 'history') return;
  trouble('');
  if (why === 'opened') nameSheet();
  byId('state').textContent = `What is chosen is kept in ${state.folder}.`;
  await diagram.show((curves) => ring.know(curves.grade)); // what "auto" is: neighbours start there
  await Promise.all(Object.values(rooms).map((room) => room.draw()));
}

// ---- making

let watching = null;
async function watch() {
  const job = await tell('job');
  byId('words').textContent = job.words;
  byId('stop').hidden = !job.running;
  for (const id of ['make', 'make-like', 'make-marked']) byId(id).disabled = job.running;
  if (job.items)
    byId('state').textContent = job.running
      ? `Making: ${job.done} of ${job.items} done, ${Math.round(job.part * 100)} % of the next`
      : `${job.made} made, ${job.failed} failed. They are in ${state.folder}.`;
  clearTimeout(watching);
  if (job.running) watching = setTimeout(guard(watch), 300);
}

async function makeThis() {
  await kept;
  await tell('make', question({ what: 'this' }));
  await watch();
}

async function makeLike(which = {}) {
  await kept;
  await tell('make', { ...question({ what: 'like' }), choices: forOthers(), ...which });
  await watch();
}

function wire() {
  for (const button of document.querySelectorAll('[data-room]'))
    button.addEventListener('click', () => go(button.dataset.room));
  byId('undo').addEventListener('click', guard(undo));
  byId('redo').addEventListener('click', guard(redo));
  byId('make').addEventListener('click', guard(makeThis));
  byId('make-like').addEventListener('click', guard(() => makeLike()));
  byId('stop').addEventListener('click', guard(async () => { await tell('stop'); await watch(); }));
  document.addEventListener('keydown', (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== 'z') return;
    if (['INPUT', 'SELECT'].includes(event.target.tagName)) return;
    event.preventDefault();
    guard(event.shiftKey ? redo : undo)();
  });
}

guard(async () => {
  onTrouble((error) => trouble(error.message));
  await begin();
  values.start(trouble);
  ring.start();
  scan.start();
  pair.start(guard);
  folder.start(guard, go, makeLike);
  wire();
  onChange(guard(refresh));
  await open(0);
})();
