// Questions to milori; the address of this page holds the key.

export class Trouble extends Error {}

async function ask(what, question, signal) {
  let answer;
  try {
    answer = await fetch(`api/${what}`, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify(question),
      signal,
    });
  } catch (error) {
    if (error.name === 'AbortError') throw error;
    throw new Trouble('milori does not answer: is it still running in the terminal?');
  }
  if (answer.ok) return answer;
  const said = await answer.json().catch(() => ({ error: `the answer was ${answer.status}` }));
  throw new Trouble(said.error);
}

export const tell = async (what, question = {}, signal) => (await ask(what, question, signal)).json();

// A picture: its size, and 4 bytes a pixel: red, green, blue, and a mark (see easel_pictures.c).
export async function picture(what, question, signal) {
  const answer = await ask(what, question, signal);
  const [width, height] = answer.headers.get('Milori-Size').split(' ').map(Number);
  return { width, height, bytes: new Uint8ClampedArray(await answer.arrayBuffer()) };
}
