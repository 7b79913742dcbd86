// What users get is the packed tarball, not the checkout: it has to work where no workspace is.
import { execFile, execFileSync } from 'node:child_process';
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import * as core from '@telltale/core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';

const run = promisify(execFile);
const root = fileURLToPath(new URL('../../..', import.meta.url));
const demo = ['demo.csv', 'demo.vehicle.yaml'];
const assess = ['assess', 'demo.csv', '--vehicle', 'demo.vehicle.yaml', '--json'];

/** npm as a JavaScript file, so that no shell and no `.cmd` shim is needed. */
const { npmCli } = (await import(new URL('../../../scripts/house.mjs', import.meta.url).href)) as { npmCli(): string };
const npm = (cwd: string, ...args: string[]) => run(process.execPath, [npmCli(), ...args], { cwd, maxBuffer: 1e8 });

async function pack(name: string, into: string): Promise<{ tarball: string; files: string[] }> {
  mkdirSync(into, { recursive: true });
  const { stdout } = await npm(
    join(root, 'packages', name),
    'pack',
    '--json',
    '--ignore-scripts',
    '--pack-destination',
    into,
  );
  const [told] = Object.values(JSON.parse(stdout) as Record<string, { files: { path: string }[] }>);
  const tarball = readdirSync(into).find((file) => file.endsWith('.tgz'));
  return { tarball: join(into, tarball!), files: told!.files.map((file) => file.path) };
}

let empty: string;
beforeAll(async () => {
  await run(process.execPath, [join(root, 'scripts', 'build.mjs')]);
  empty = mkdtempSync(join(tmpdir(), 'telltale-packed-'));
}, 180_000);
afterAll(() => rmSync(empty, { recursive: true, force: true }));

describe('packed command line', () => {
  let files: string[];
  let home: string;
  beforeAll(async () => {
    const packed = await pack('cli', join(empty, 'cli'));
    files = packed.files;
    home = join(empty, 'elsewhere');
    mkdirSync(home);
    writeFileSync(join(home, 'package.json'), '{ "name": "elsewhere", "private": true }\n');
    // Offline: the bundle carries core and every library.
    await npm(home, 'install', '--offline', '--omit=optional', '--no-audit', '--no-fund', packed.tarball);
    for (const name of demo) copyFileSync(join(root, 'test-data', name), join(home, name));
  }, 180_000);

  const installed = () => join(home, 'node_modules', '@telltale', 'cli', 'bin', 'telltale.js');

  it('carries the bundle, the licence and the notices, no sources, and no code of this very Node', () => {
    expect(files.filter((file) => file.endsWith('.code'))).toEqual([]);
    expect(files).toEqual(
      expect.arrayContaining(['bin/telltale.js', 'dist/main.js', 'LICENSE', 'THIRD-PARTY-NOTICES.md', 'package.json']),
    );
    expect(
      files.filter((file) => !/^(bin|dist)\/|^(LICENSE|README\.md|THIRD-PARTY-NOTICES\.md|package\.json)$/.test(file)),
    ).toEqual([]);
  });

  it('installs nothing beside itself', () => {
    expect(readdirSync(join(home, 'node_modules')).filter((name) => !name.startsWith('.'))).toEqual(['@telltale']);
    expect(readdirSync(join(home, 'node_modules', '@telltale'))).toEqual(['cli']);
  });

  it('links the command', () => {
    const link = join(home, 'node_modules', '.bin', process.platform === 'win32' ? 'telltale.cmd' : 'telltale');
    const said = execFileSync(link, ['--version'], {
      cwd: home,
      encoding: 'utf8',
      shell: process.platform === 'win32',
    });
    const { version } = JSON.parse(readFileSync(join(root, 'packages', 'cli', 'package.json'), 'utf8')) as {
      version: string;
    };
    expect(said.trim()).toContain(version);
  });

  it('assesses the demo with the same bytes as the workspace', async () => {
    const there = await run(process.execPath, [installed(), ...assess], { cwd: home, maxBuffer: 1e8 });
    const here = await run(process.execPath, [join(root, 'packages', 'cli', 'bin', 'telltale.js'), ...assess], {
      cwd: join(root, 'test-data'),
      maxBuffer: 1e8,
    });
    expect(JSON.parse(there.stdout)).toMatchObject({ schema: 'telltale/assessment@1' });
    expect(there.stdout).toBe(here.stdout);
  });
});

describe('packed core', () => {
  let files: string[];
  let home: string;
  beforeAll(async () => {
    const packed = await pack('core', join(empty, 'core'));
    files = packed.files;
    home = join(empty, 'library');
    const place = join(home, 'node_modules', '@telltale', 'core');
    mkdirSync(place, { recursive: true });
    execFileSync('tar', ['-xzf', packed.tarball, '-C', place, '--strip-components=1']);
    // Its declared dependencies and no others, as an install would give it.
    const manifest = JSON.parse(readFileSync(join(place, 'package.json'), 'utf8')) as {
      dependencies: Record<string, string>;
    };
    for (const name of Object.keys(manifest.dependencies)) {
      const link = join(home, 'node_modules', name);
      mkdirSync(dirname(link), { recursive: true });
      const own = join(root, 'packages', 'core', 'node_modules', name);
      symlinkSync(existsSync(own) ? own : join(root, 'node_modules', name), link, 'junction');
    }
  }, 180_000);

  it('carries types, licence and sources of its maps, and no test', () => {
    expect(files).toEqual(expect.arrayContaining(['dist/index.js', 'dist/index.d.ts', 'LICENSE', 'package.json']));
    expect(files.filter((file) => /(^|\/)test|tsbuildinfo/.test(file))).toEqual([]);
  });

  it('opens the same door as the sources', async () => {
    const script = "import * as core from '@telltale/core'; console.log(JSON.stringify(Object.keys(core).sort()));";
    const { stdout } = await run(process.execPath, ['--input-type=module', '--eval', script], { cwd: home });
    expect(JSON.parse(stdout)).toEqual(Object.keys(core).sort());
  });
});
