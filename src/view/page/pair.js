// Two sets of choices for the same sheet, side by side.

import { Round } from './paint.js';
import { choose, onChange, question, state } from './state.js';
import { asText } from './values.js';

const MOST = 1000;
const here = document.getElementById('pair-here'), aside = document.getElementById('pair-aside');
const round = new Round();
let other = null;

const isShown = () => !document.getElementById('pair').hidden;

// What was chosen, as the command takes it.
function words(choices) {
  const said = state.table.filter((row) => asText(choices[row.name]) !== asText(state.first[row.name]))
    .map((row) => `--${row.name} ${asText(choices[row.name])}`);
  return said.join(' ') || 'nothing chosen: all automatic';
}

export async function draw() {
  if (!isShown()) return;
  document.getElementById('pair-here-words').textContent = words(state.choices);
  document.getElementById('change-over').disabled = !other;
  const wanted = [{ canvas: here, question: question({ most: MOST }) }];
  if (other) {
    document.getElementById('pair-aside-words').textContent = `aside: ${words(other)}`;
    wanted.push({ canvas: aside, question: question({ most: MOST, choices: other }) });
  }
  await round.show(wanted);
}

export function start(guard) {
  document.getElementById('put-aside').addEventListener('click', () => { other = state.choices; guard(draw)(); });
  document.getElementById('change-over').addEventListener('click', guard(async () => {
    const before = state.choices;
    await choose(other);
    other = before;
    await draw();
  }));
  onChange((why) => { if (why === 'opened') other = null; });
}
