// Asks the library. One worker computes; a request can be stopped, and after a failure of its own the library starts anew.

export const TEXT = 1;
export const SHEET = 2;
export const PLAN = 4;

let worker;
let waiting = new Map();
let last = 0;

/** In the single file worker and module stand in blocks of the page; else they are files beside it. */
async function inline() {
  const code = document.getElementById('worker-code');
  if (!code) return null;
  const packed = Uint8Array.from(atob(document.getElementById('module-bytes').textContent.trim()), (char) => char.charCodeAt(0));
  const unpacked = new Blob([packed]).stream().pipeThrough(new DecompressionStream('gzip'));
  return { url: URL.createObjectURL(new Blob([code.textContent], { type: 'text/javascript' })), bytes: await new Response(unpacked).arrayBuffer() };
}

let inlined;
async function started() {
  if (worker) return worker;
  inlined ??= inline();
  const from = await inlined;
  if (worker) return worker;
  worker = new Worker(from ? from.url : 'worker.js');
  worker.onmessage = ({ data }) => {
    const job = waiting.get(data.id);
    waiting.delete(data.id);
    if (data.broken && data.id !== 0) restart();
    job?.resolve(data);
  };
  worker.onerror = () => restart('the library could not be started');
  waiting.set(0, { resolve: (data) => data.broken && restart(data.broken) });
  worker.postMessage({ start: true, id: 0, bytes: from?.bytes });
  return worker;
}

function restart(why) {
  worker?.terminate();
  worker = undefined;
  const left = waiting;
  waiting = new Map();
  for (const job of left.values()) job.resolve({ stopped: !why, broken: why });
}

/** Ends what is being computed; whoever waits for it gets `stopped`. */
export function stop() {
  restart();
}

export const busy = () => waiting.size > 0;

async function send(message) {
  const id = ++last;
  const to = await started();
  return new Promise((resolve) => {
    waiting.set(id, { resolve });
    to.postMessage({ id, ...message });
  });
}

/**
 * Answers a request: `{ ok, doc, text, sheet, calendar, table }`; `doc` is the document, or the refusal where `ok` is false.
 * A failure of the library itself is a refusal of code `own-failure` too, in its own words.
 */
export async function ask(request, forms = 0) {
  const now = new Date();
  const today = now.getFullYear() * 10_000 + (now.getMonth() + 1) * 100 + now.getDate();
  const answered = await send({ request: JSON.stringify(request), forms, day: today });
  if (answered.stopped) return { ok: false, stopped: true, doc: refusal(request.job, 'stopped', 'Stopped. What you typed is still here.') };
  if (answered.broken) {
    const words = 'The program failed on this request and was started anew. What you typed is still here; please report it.';
    return { ok: false, doc: refusal(request.job, 'own-failure', words) };
  }
  return { ...answered, doc: JSON.parse(answered.line) };
}

const refusal = (job, code, message) => ({ version: 1, job, status: 3, problems: [{ code, message, help: null, key: null, file: null }], conflict: [] });

/** The text of the starter bench. */
export async function starter() {
  return (await send({ request: null })).line;
}

/** Starts worker and module before they are needed. */
export const warm = () => started();
