// `npm start`: install, build, then assess. Without arguments the demo: a buyer's recording, then an owner's logbook; otherwise the
// user's own files.
import { spawnSync } from 'node:child_process';
import { copyFileSync, existsSync, mkdirSync, rmSync, statSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';
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

/** The owner's demo is shown as of a day soon after its last drive. */
const OWNER = { book: join(root, 'test-data', 'demo.book.sqlite'), date: '2025-05-01' };

/** The book is used as a copy: showing a car keeps its report, and the checkout stays as it was. */
function ownersBook() {
  const copy = join(root, 'node_modules', '.cache', 'telltale', 'demo.book.sqlite');
  if (existsSync(copy) && statSync(copy).mtimeMs >= statSync(OWNER.book).mtimeMs) return copy;
  mkdirSync(dirname(copy), { recursive: true });
  for (const tail of ['', '-wal', '-shm', '-journal']) rmSync(copy + tail, { force: true });
  copyFileSync(OWNER.book, copy);
  return copy;
}

/** What an owner sees, below what a buyer sees; never a failure of the demo. */
function showOwner(bin) {
  if (!existsSync(OWNER.book)) return;
  const book = ownersBook();
  const near = relative(process.cwd(), book);
  process.stdout.write(
    `\n\nAN OWNER, after 28 monthly drives of another car: npm start -- track report --book ${near}\n\n`,
  );
  spawnSync(process.execPath, [bin, 'track', 'report', '--book', book, '--date', OWNER.date], { stdio: 'inherit' });
  process.stdout.write(
    '\n\nA TUNER, two maps: npm start -- verify --after test-data/sessions/after.csv.gz --before test-data/sessions/before.csv.gz\n',
  );
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
  const given = process.argv.slice(2);
  process.argv = [process.argv[0], bin, ...commandLine(given)];
  await import(pathToFileURL(bin).href);
  if (given.length === 0 && !process.exitCode) showOwner(bin);
}
