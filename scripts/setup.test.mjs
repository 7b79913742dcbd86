import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { isInstalled } from './setup.mjs';

describe('what counts as installed', () => {
  let base;
  const lock = (packages) => writeFileSync(join(base, 'package-lock.json'), JSON.stringify({ packages }));
  const installed = (packages) => {
    for (const place of Object.keys(packages)) mkdirSync(join(base, place), { recursive: true });
    mkdirSync(join(base, 'node_modules', '.bin'), { recursive: true });
    writeFileSync(join(base, 'node_modules', '.package-lock.json'), JSON.stringify({ packages }));
  };
  beforeEach(() => {
    base = mkdtempSync(join(tmpdir(), 'telltale-setup-'));
  });
  afterEach(() => rmSync(base, { recursive: true, force: true }));

  const one = { 'node_modules/one': { version: '1.0.0' } };

  it('a bare checkout does not', () => {
    lock(one);
    expect(isInstalled(base)).toBe(false);
  });

  it('what the lock names does, by whomever it was installed', () => {
    lock({ '': {}, 'packages/core': {}, ...one });
    installed(one);
    expect(isInstalled(base)).toBe(true);
  });

  it('another version does not', () => {
    lock({ 'node_modules/one': { version: '1.0.1' } });
    installed(one);
    expect(isInstalled(base)).toBe(false);
  });

  it('a missing package does not', () => {
    lock({ ...one, 'packages/core/node_modules/two': { version: '2.0.0' } });
    installed(one);
    expect(isInstalled(base)).toBe(false);
  });

  it('a package that is recorded but was deleted does not', () => {
    lock(one);
    installed(one);
    rmSync(join(base, 'node_modules', 'one'), { recursive: true });
    expect(isInstalled(base)).toBe(false);
  });

  it('an optional package of another platform may be absent', () => {
    lock({ ...one, 'node_modules/native': { version: '1.0.0', optional: true } });
    installed(one);
    expect(isInstalled(base)).toBe(true);
  });
});
