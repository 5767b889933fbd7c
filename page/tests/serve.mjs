// A static host on this machine: serves a folder, and counts every request that it gets.

import { createServer } from 'node:http';
import { readFile } from 'node:fs/promises';
import { extname, join, normalize } from 'node:path';

const TYPES = { '.html': 'text/html; charset=utf-8', '.js': 'text/javascript; charset=utf-8', '.css': 'text/css; charset=utf-8', '.wasm': 'application/wasm', '.svg': 'image/svg+xml', '.webmanifest': 'application/manifest+json' };

export async function serve(folder) {
  const seen = [];
  const server = createServer(async (request, response) => {
    const path = new URL(request.url, 'http://localhost').pathname;
    seen.push(path);
    try {
      const file = normalize(join(folder, path === '/' ? 'index.html' : path));
      if (!file.startsWith(folder)) throw new Error('outside');
      const body = await readFile(file);
      response.writeHead(200, { 'content-type': TYPES[extname(file)] ?? 'application/octet-stream' }).end(body);
    } catch {
      response.writeHead(404).end();
    }
  });
  await new Promise((ready) => server.listen(0, '127.0.0.1', ready));
  return { url: `http://localhost:${server.address().port}/`, seen, close: () => { server.closeAllConnections(); server.close(); } };
}
