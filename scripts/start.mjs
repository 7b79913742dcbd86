// `npm start`: install, build, then assess. Without arguments the demo recording, otherwise the user's own files.
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { build } from './build.mjs';
import { root, say } from './house.mjs';
import { setup } from './setup.mjs';

const commands = new Set(
  'assess shortlist verify track plan columns rules export page completion help --help -h --version -V'.split(' '),
);

const demo = ['test-data/demo.csv', '--vehicle', 'test-data/demo.vehicle.yaml'].map((part) =>
  part.startsWith('--') ? part : join(root, part),
);

/** What the command line gets: `npm start -- …` is `telltale assess …`, unless it names a command itself. */
function commandLine(given) {
  const first = given[0];
  if (first !== undefined && commands.has(first)) return given;
  // Only switches, such as `--json`: they are meant for the demo.
  if (given.every((part) => part.startsWith('-'))) return ['assess', ...demo, ...given];
  return ['assess', ...given];
}

const failed = (await setup()) || (await build());
if (failed) {
  process.exitCode = failed;
} else {
  // npm moves to the checkout; the user's paths count from where the user stands.
  const stand = process.env.INIT_CWD;
  if (stand !== undefined && existsSync(stand)) process.chdir(stand);
  const bin = join(root, 'packages', 'cli', 'bin', 'telltale.js');
  if (!existsSync(demo[0])) say(`start: ${demo[0]} is absent: restore it from version control`);
  process.argv = [process.argv[0], bin, ...commandLine(process.argv.slice(2))];
  await import(pathToFileURL(bin).href);
}
