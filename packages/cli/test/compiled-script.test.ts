import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { afterAll, beforeEach, describe, expect, it } from 'vitest';
import { codeFile, runScript } from '../src/compiled-script.js';

const folder = mkdtempSync(join(tmpdir(), 'telltale-script-'));
const path = join(folder, 'script.js');
/** The same but for a remark, and equally long: V8 takes code by the length of the text, and has a text it compiled at hand. */
let serial = 1000;
const text = () => `(function (exports, require, module, scriptUrl) { // ${serial++}
  exports.half = (x) => x / 2;
  exports.place = scriptUrl;
  exports.join = require('node:path').join;
})`;
afterAll(() => rmSync(folder, { recursive: true }));

/** What the script gives, and whether V8 took the code beside it; undefined where there was none. */
function run(): { half: number; taken: boolean | undefined } {
  const { exports, script } = runScript(path);
  expect(exports.place).toBe(pathToFileURL(path).href);
  expect(exports.join).toBe(join);
  const { cachedDataRejected } = script;
  const half = (exports as { half: (x: number) => number }).half(5);
  return { half, taken: cachedDataRejected === undefined ? undefined : !cachedDataRejected };
}

describe('a script with its compiled code beside it', () => {
  beforeEach(() => {
    rmSync(codeFile(path), { force: true });
    writeFileSync(path, text());
  });
  const keep = () => {
    writeFileSync(codeFile(path), runScript(path).script.createCachedData());
    writeFileSync(path, text());
  };

  it('runs without', () => {
    expect(run()).toEqual({ half: 2.5, taken: undefined });
  });

  it('runs with it', () => {
    keep();
    expect(run()).toEqual({ half: 2.5, taken: true });
  });

  it.each([0, 1, 40, 0.5, 0.99])('runs when the code is cut (%d)', (share) => {
    keep();
    const whole = readFileSync(codeFile(path));
    writeFileSync(codeFile(path), whole.subarray(0, share < 1 ? whole.length * share : share));
    expect(run()).toEqual({ half: 2.5, taken: false });
  });

  it('runs when the code is of another version', () => {
    keep();
    const other = readFileSync(codeFile(path));
    other.fill(0, 0, 16);
    writeFileSync(codeFile(path), other);
    expect(run()).toEqual({ half: 2.5, taken: false });
  });
});
