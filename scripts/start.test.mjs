// `npm start` as its users meet it: started in one folder, working in the checkout.
import { spawnSync } from 'node:child_process';
import { copyFileSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { root } from './house.mjs';

describe('npm start', () => {
  let stand;
  const start = (...args) => {
    const env = { ...process.env, INIT_CWD: stand, NO_COLOR: '1' };
    const { status, stdout, stderr } = spawnSync(process.execPath, [join(root, 'scripts', 'start.mjs'), ...args], {
      cwd: root,
      env,
      encoding: 'utf8',
    });
    return { status, stdout, stderr };
  };
  beforeAll(() => {
    stand = mkdtempSync(join(tmpdir(), 'telltale-start-'));
    mkdirSync(join(stand, 'logs'));
    copyFileSync(join(root, 'test-data', 'demo.csv'), join(stand, 'logs', 'my drive.csv'));
    expect(spawnSync(process.execPath, [join(root, 'scripts', 'build.mjs')], { stdio: 'ignore' }).status).toBe(0);
  });
  afterAll(() => rmSync(stand, { recursive: true, force: true }));

  it('assesses the demo when nothing is said', () => {
    const { status, stdout } = start();
    expect(status).toBe(0);
    expect(stdout).toContain('demo.csv');
  });

  it('shows an owner below the buyer, out of a copy of the committed book', () => {
    const book = join(root, 'test-data', 'demo.book.sqlite');
    const before = readFileSync(book);
    const { status, stdout, stderr } = start();
    expect(status).toBe(0);
    expect(stderr).toBe('');
    const [buyer, owner] = stdout.split('AN OWNER');
    expect(buyer).toContain('demo.csv');
    expect(owner).toContain('our-saloon  28 drives');
    expect(owner).toMatch(/drifting {2}trim at idle, bank 1/);
    expect(owner).toContain('DUE');
    expect(owner).toContain('npm start -- verify');
    expect(readFileSync(book).equals(before)).toBe(true);
  });

  it('gives switches to the demo, and prints nothing beside the result', () => {
    const { status, stdout } = start('--json');
    expect(status).toBe(0);
    expect(JSON.parse(stdout)).toMatchObject({ schema: 'telltale/assessment@1', inputs: [{ file: 'demo.csv' }] });
  });

  it("finds the user's files where the user stands", () => {
    const { status, stdout } = start(join('logs', 'my drive.csv'), '--json');
    expect(status).toBe(0);
    expect(JSON.parse(stdout)).toMatchObject({ inputs: [{ file: 'my drive.csv', kind: 'recording' }] });
  });

  it('passes the exit code through', () => {
    expect(start('absent.csv').status).toBe(3);
    expect(start('--no-such-option').status).toBe(2);
  });

  it('runs another command when it is named', () => {
    const { status, stdout } = start('rules');
    expect(status).toBe(0);
    expect(stdout).toContain('transmission.over-temperature');
  });

  it('tells the version', () => {
    const { status, stdout } = start('--version');
    expect(status).toBe(0);
    expect(stdout).toMatch(/^\d+\.\d+\.\d+\n$/);
  });
});
