// Requests of every job give the same document in Chromium as by the native program, byte for byte.

import { requests } from './requests.mjs';

/** `page` stands on the page of the folder. */
export async function equal({ page, root, native, each }) {
  const all = await requests(root, native, each);
  await page.evaluate(async () => {
    const { instance } = await WebAssembly.instantiate(await (await fetch('bloomsalt.wasm')).arrayBuffer(), {});
    const library = instance.exports;
    window.answered = (texts) => texts.map((text) => {
      const bytes = new TextEncoder().encode(text);
      const at = library.room(bytes.length);
      new Uint8Array(library.memory.buffer, at, bytes.length).set(bytes);
      library.answer(0, 20261126);
      return new TextDecoder().decode(new Uint8Array(library.memory.buffer, library.part_at(0), library.part_length(0)));
    });
  });
  const report = { compared: 0, refused: 0, different: [] };
  for (const [job, list] of Object.entries(all)) {
    const [here, there] = await Promise.all([page.evaluate((texts) => window.answered(texts), list.map((request) => JSON.stringify(request))), native(list)]);
    let refused = 0;
    here.forEach((line, number) => {
      report.compared += 1;
      if (line.includes('"problems":[')) refused += 1;
      if (line.trimEnd() !== there[number]) report.different.push({ job, request: list[number], here: line.slice(0, 300), there: there[number]?.slice(0, 300) });
    });
    report.refused += refused;
    if (refused === list.length) report.different.push({ job, request: 'every request was refused' });
  }
  return report;
}
