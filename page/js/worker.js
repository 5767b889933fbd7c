// The library, off the page's own thread: a long search does not freeze the page, and can be stopped by ending the worker.

let library;
const bytesOf = new TextEncoder();
const textOf = new TextDecoder();

async function start(bytes) {
  const from = bytes
    ? await WebAssembly.instantiate(bytes, {})
    : await fetch('bloomsalt.wasm').then(async (file) => WebAssembly.instantiate(await file.arrayBuffer(), {}));
  library = from.instance.exports;
}

function part(number) {
  const [at, length] = [library.part_at(number), library.part_length(number)];
  return length ? textOf.decode(new Uint8Array(library.memory.buffer, at, length)) : '';
}

function answer({ request, forms, day }) {
  if (request === null) {
    library.starter();
    return { ok: true, line: part(0) };
  }
  const bytes = bytesOf.encode(request);
  const at = library.room(bytes.length);
  new Uint8Array(library.memory.buffer, at, bytes.length).set(bytes);
  const ok = library.answer(forms, day) !== 0;
  const [line, text, sheet, calendar, table] = [0, 1, 2, 3, 4].map(part);
  return { ok, line, text, sheet, calendar, table };
}

let ready;
onmessage = async ({ data }) => {
  try {
    if (data.start) ready = start(data.bytes);
    await ready;
    postMessage({ id: data.id, ...(data.start ? { ok: true } : answer(data)) });
  } catch (error) {
    postMessage({ id: data.id, broken: String(error) });
  }
};
