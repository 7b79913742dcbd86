// Installs what package-lock.json names, and only when it is not installed already. Dependency-free.
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { digest, isMain, npmCli, readJson, readStamp, root, run, say, writeStamp } from './house.mjs';

const lock = join(root, 'package-lock.json');
const manifests = ['package.json', 'packages/core/package.json', 'packages/cli/package.json'].map((name) =>
  join(root, name),
);

/**
 * Compares the lock file with npm's own record of what it installed. So an install that somebody made by hand counts
 * and is not thrown away. Optional packages may be absent: they belong to other platforms.
 */
export function isInstalled(base = root) {
  const record = join(base, 'node_modules', '.package-lock.json');
  const lock = join(base, 'package-lock.json');
  if (!existsSync(record) || !existsSync(lock)) return false;
  const wanted = readJson(lock).packages ?? {};
  const present = readJson(record).packages ?? {};
  for (const [place, entry] of Object.entries(wanted)) {
    if (!place.includes('node_modules/') || entry.optional || entry.devOptional) continue;
    const found = present[place];
    if (found === undefined || found.version !== entry.version) return false;
    if (!entry.link && !existsSync(join(base, place))) return false;
  }
  return existsSync(join(base, 'node_modules', '.bin'));
}

/** Resolves to 0, or to the exit code of the npm that failed. */
export async function setup() {
  const [major = 0, minor = 0] = process.versions.node.split('.').map(Number);
  if (major < 20 || (major === 20 && minor < 19)) {
    say(
      `setup: this is Node ${process.versions.node}, but telltale needs 20.19 or newer: install a newer Node and repeat`,
    );
    return 2;
  }
  const print = digest([lock, ...manifests]);
  if (readStamp('setup.json')?.print === print && existsSync(join(root, 'node_modules', '.bin'))) return 0;
  if (!isInstalled()) {
    // On a bare checkout exactly what the lock names. Over an existing folder only the difference.
    const bare = existsSync(lock) && !existsSync(join(root, 'node_modules', '.package-lock.json'));
    say('setup: installing packages (once)');
    // The tools are development dependencies: NODE_ENV=production must not leave them out.
    const args = [
      bare ? 'ci' : 'install',
      '--include=dev',
      '--include=optional',
      '--no-audit',
      '--no-fund',
      '--loglevel=error',
    ];
    const { code } = await run(process.execPath, [npmCli(), ...args]);
    if (code !== 0) {
      say(
        `setup: npm ${args[0]} ended with code ${code}: see its message above, mend it (network? registry?) and repeat`,
      );
      return code;
    }
  }
  writeStamp('setup.json', { print: digest([lock, ...manifests]) });
  return 0;
}

if (isMain(import.meta.url)) process.exitCode = await setup();
