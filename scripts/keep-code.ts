// Keeps the code that V8 compiles from the script of the commands beside it, so that a start takes what is compiled.
// Called by the build: `node scripts/run.mjs scripts/keep-code.ts SCRIPT`.
import { renameSync, writeFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { codeFile, runScript } from '../packages/cli/src/compiled-script.js';
import type { Terminal } from '../packages/cli/src/terminal/output.js';

type Commands = typeof import('../packages/cli/src/commands/index.js');

const [given] = process.argv.slice(2);
if (given === undefined) throw new Error('no script given');
const path = resolve(given);
const { exports, script } = runScript(path);
await work(exports as unknown as Commands);
const part = `${codeFile(path)}.part-${process.pid}`;
writeFileSync(part, script.createCachedData());
renameSync(part, codeFile(path));

/** V8 compiles a function when it is first called: so the commands do their work on the demo before their code is kept. */
async function work(commands: Commands): Promise<void> {
  const said: string[] = [];
  const say = (text: string) => void said.push(text);
  const terminal: Terminal = { out: say, err: say, width: 80, color: false, live: false };
  const demo = (name: string) => `test-data/demo.${name}`;
  const vehicle = demo('vehicle.yaml');
  await commands.assessCommand([demo('csv'), demo('stored.csv'), demo('codes.csv')], { vehicle }, terminal);
  await commands.assessCommand([demo('csv')], { json: true }, terminal);
  await commands.columnsCommand(demo('csv'), {}, terminal);
  await commands.planCommand(undefined, { vehicle }, terminal);
  if (said.length === 0) throw new Error('the commands said nothing');
}
