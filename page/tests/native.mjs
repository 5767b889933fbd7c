// The program of this machine, one request a line.

import { spawn } from 'node:child_process';

export const native = (program) => async (requests) => {
  const run = spawn(program, ['batch'], { stdio: ['pipe', 'pipe', 'inherit'] });
  const parts = [];
  run.stdout.on('data', (part) => parts.push(part));
  run.stdin.end(requests.map((request) => `${JSON.stringify(request)}\n`).join(''));
  await new Promise((done) => run.on('close', done));
  return Buffer.concat(parts).toString().trimEnd().split('\n');
};
