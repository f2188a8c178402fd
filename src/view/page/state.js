// What is chosen, and the way back. One history a sheet.

import { tell } from './api.js';

const histories = new Map();
const listeners = new Set();

export const state = { scans: [], scan: 0, sheet: 0, sheets: 1, facts: null, size: [1, 1],
  scanSize: [1, 1], choices: {}, first: {}, table: [], folder: '' };

const key = () => `${state.scan}/${state.sheet}`;
const history = () => histories.get(key());

// What is true of one sheet of one scan only, and so is not given to another.
export const OF_ONE_SHEET = ['corners', 'unexposed'];
// What the sheet is: other choices of these are measured anew.
const OF_THE_SHEET = ['dpi', 'shape', 'frame', 'corners', 'unexposed'];

export const onChange = (listener) => listeners.add(listener);
const announce = (why) => Promise.all([...listeners].map((listen) => listen(why)));

export const question = (more = {}) =>
  ({ scan: state.scan, sheet: state.sheet, choices: state.choices, ...more });

let keeping = null;
export let kept = Promise.resolve();

// Kept in its file as it is made; only the newest of a quick row of choices is sent.
function keep() {
  const asked = { scan: state.scan, sheet: state.sheet, choices: state.choices };
  clearTimeout(keeping?.timer);
  if (keeping && (keeping.asked.scan !== asked.scan || keeping.asked.sheet !== asked.sheet))
    kept = kept.then(() => tell('choose', keeping.asked));
  const send = () => { keeping = null; kept = tell('choose', asked); return kept; };
  keeping = { asked, timer: setTimeout(() => send().catch(report), 250) };
}
let report = () => {};
export const onTrouble = (tellIt) => { report = tellIt; };

function take(answer) {
  state.sheets = answer.sheets;
  state.facts = answer.sheet;
  state.size = answer.size;
  state.scanSize = answer.scan_size;
  state.choices = answer.choices;
}

export async function begin() {
  const [scans, table] = await Promise.all([tell('scans'), tell('table')]);
  Object.assign(state, { scans: scans.scans, folder: scans.folder, table: table.table,
    first: table.first });
}

export async function open(scan, sheet = 0) {
  const answer = await tell('sheet', { scan, sheet });
  state.scan = scan;
  state.sheet = sheet;
  take(answer);
  if (!history()) histories.set(key(), { past: [], future: [] });
  await announce('opened');
}

async function use(choices) {
  const measured = OF_THE_SHEET.some((name) =>
    JSON.stringify(choices[name]) !== JSON.stringify(state.choices[name]));
  const placed = ['turn', 'reading'].some((name) => choices[name] !== state.choices[name]);
  if (measured || placed)
    take(await tell('sheet', { scan: state.scan, sheet: state.sheet, choices }));
  state.choices = choices;
  keep();
  await announce(measured ? 'measured' : 'chosen');
}

export async function choose(changes) {
  const next = { ...state.choices, ...changes };
  if (JSON.stringify(next) === JSON.stringify(state.choices)) return;
  const before = state.choices;
  await use(next);
  history().past.push(before);
  history().future.length = 0;
  await announce('history');
}

async function step(from, to) {
  const there = history()[from].pop();
  if (!there) return;
  history()[to].push(state.choices);
  await use(there);
  await announce('history');
}
export const undo = () => step('past', 'future');
export const redo = () => step('future', 'past');
export const canUndo = () => history()?.past.length > 0;
export const canRedo = () => history()?.future.length > 0;

// These choices without what is true of this sheet only.
export function forOthers() {
  const like = { ...state.choices };
  for (const name of OF_ONE_SHEET) like[name] = state.first[name];
  return like;
}

const FRACTIONS = { 0.125: '⅛', 0.25: '¼', 0.5: '½', 0.75: '¾', 0.375: '⅜', 0.625: '⅝', 0.875: '⅞' };
export function asFraction(value) {
  const whole = Math.trunc(value), rest = FRACTIONS[Math.abs(value - whole)];
  if (value === whole) return String(whole);
  return rest ? `${whole || (value < 0 ? '-' : '')}${rest}` : String(Math.round(value * 1000) / 1000);
}
