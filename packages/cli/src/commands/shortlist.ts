import { readdir, readFile, stat } from 'node:fs/promises';
import { basename, extname, join, resolve } from 'node:path';
import { setImmediate } from 'node:timers/promises';
import {
  type Assessment,
  assess,
  redact,
  renderMarkdown,
  renderText,
  shortlistDocument,
  shortlistOf,
  shortlistPage,
  sideFileKind,
  toJson,
} from '@telltale/core';
import { EXIT, UserError } from '../exit-code.js';
import { expandFolders, type OpenedInput, openInput, userPath } from '../files.js';
import { writePage } from '../page.js';
import { loadMap, loadPrices, loadSheet, loadVehicle } from '../side-files.js';
import type { Terminal } from '../terminal/output.js';
import { oneLine } from '../terminal/output.js';
import { paintFor } from '../terminal/paint.js';
import { Progress } from '../terminal/progress.js';

export interface ShortlistFlags {
  readonly prices?: string | undefined;
  readonly json?: boolean | undefined;
  readonly markdown?: boolean | undefined;
  readonly quiet?: boolean | undefined;
  readonly redact?: boolean | undefined;
  readonly html?: string | undefined;
}

/** Side files of one candidate, by what they say they are. */
interface Side {
  vehicle?: string;
  map?: string;
  sheet?: string;
  prices?: string;
}

/** `telltale shortlist PATH...`: one candidate a folder (or file), side by side. @returns the exit code. */
export async function shortlistCommand(
  paths: readonly string[],
  flags: ShortlistFlags,
  terminal: Terminal,
): Promise<number> {
  if (flags.json && flags.markdown)
    throw new UserError('usage', 'found --json and --markdown together, expected one of them');
  if (paths.length === 0)
    throw new UserError('usage', 'found no candidate, expected at least one folder: telltale shortlist PATH...');
  const { interruption } = terminal;
  interruption?.keep();
  const named = names(paths);
  const candidates: { name: string; assessment: Assessment }[] = [];
  let unusable = 0;
  for (const [i, path] of paths.entries()) {
    if (interruption?.requested) break;
    const name = named[i]!;
    const assessment = await candidateOf(path, flags, terminal, `${name} (${i + 1} of ${paths.length})`);
    const said = flags.redact ? `candidate ${i + 1} of ${paths.length}` : name;
    for (const { error } of (flags.redact ? redact(assessment) : assessment).inputs) {
      if (error === undefined) continue;
      unusable++;
      if (!flags.quiet) terminal.err(`telltale: ${error.code}: ${oneLine(`${said}: ${error.message}`)}\n`);
    }
    candidates.push({ name, assessment });
  }
  const found = shortlistOf(candidates);
  const list = flags.redact ? redact(found) : found;
  const blocks = shortlistDocument(list);
  if (flags.html !== undefined) await writePage(flags.html, shortlistPage(list));
  terminal.out(
    flags.json
      ? toJson(list)
      : flags.markdown
        ? renderMarkdown(blocks)
        : renderText(blocks, { width: terminal.width, paint: paintFor(terminal.color) }),
  );
  if (interruption?.requested) return EXIT.interrupted;
  return unusable > 0 ? EXIT.input : EXIT.done;
}

async function candidateOf(
  path: string,
  flags: ShortlistFlags,
  terminal: Terminal,
  shown: string,
): Promise<Assessment> {
  const side = await sideFiles(path);
  const vehicle = await loadVehicle(side.vehicle);
  const map = await loadMap(side.map);
  const sheet = await loadSheet(side.sheet);
  const prices = await loadPrices(flags.prices ?? side.prices);
  let progress: Progress | undefined;
  const inputs: OpenedInput[] = [];
  const onBytes = (count: number) => {
    progress?.bytes(count);
    if (terminal.interruption?.requested) throw new Error('interrupted');
  };
  for (const file of await expandFolders([path])) inputs.push(await openInput(file, onBytes, true));
  progress = new Progress(
    terminal,
    flags.quiet ?? false,
    inputs.reduce((sum, { size }) => sum + (size ?? 0), 0),
  );
  terminal.interruption?.onRequest(() => {
    for (const { halt } of inputs) halt?.();
  });
  const assessment = await assess(inputs, {
    turn: () => setImmediate(),
    onProgress: (done, total, name) => progress?.begin(done, total, name === '' ? '' : `${shown} ${name}`),
    interrupted: () => terminal.interruption?.requested ?? false,
    ...(vehicle === undefined ? {} : { vehicle }),
    ...(map === undefined ? {} : { map }),
    ...(sheet === undefined ? {} : { sheet }),
    ...(prices === undefined ? {} : { prices }),
  });
  inputs.length = 0;
  return assessment;
}

/** YAML and JSON files of a folder whose schema telltale knows; of two of a kind the first by name. */
async function sideFiles(path: string): Promise<Side> {
  const side: Side = {};
  const at = userPath(path);
  const folder = await stat(at).then(
    (entry) => entry.isDirectory(),
    () => false,
  );
  if (!folder) return side;
  const files = (await readdir(at)).filter((name) => /^\.(ya?ml|json)$/i.test(extname(name))).sort();
  for (const name of files) {
    const text = await readFile(join(at, name), 'utf8').catch(() => '');
    const kind = sideFileKind(text);
    if (kind !== undefined) side[kind] ??= join(path, name);
  }
  return side;
}

/** Base names, told apart by a number where two folders are called the same. */
function names(paths: readonly string[]): string[] {
  const count = new Map<string, number>();
  return paths.map((path) => {
    const name = basename(resolve(path)) || path;
    const before = count.get(name) ?? 0;
    count.set(name, before + 1);
    return before === 0 ? name : `${name} (${before + 1})`;
  });
}
