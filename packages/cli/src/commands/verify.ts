import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import {
  type InputFile,
  type PullCurves,
  redact,
  renderMarkdown,
  renderText,
  toJson,
  type Verification,
  verificationDocument,
  verificationPage,
  verificationTables,
  verify,
} from '@telltale/core';
import { EXIT, UserError } from '../exit-code.js';
import { expandFolders, openInput, userPath } from '../files.js';
import { writePage } from '../page.js';
import { loadLimits, loadMap, loadTargets, loadVehicle } from '../side-files.js';
import type { Terminal } from '../terminal/output.js';
import { oneLine } from '../terminal/output.js';
import { paintFor } from '../terminal/paint.js';
import { Progress } from '../terminal/progress.js';

export interface VerifyFlags {
  readonly after?: readonly string[] | undefined;
  readonly before?: readonly string[] | undefined;
  readonly vehicle?: string | undefined;
  readonly map?: string | undefined;
  readonly rate?: number | undefined;
  readonly targets?: string | undefined;
  readonly limits?: string | undefined;
  readonly json?: boolean | undefined;
  readonly markdown?: boolean | undefined;
  readonly html?: string | undefined;
  /** Folder for the tables as CSV. */
  readonly tables?: string | undefined;
  readonly redact?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}

/** `telltale verify --after FILE... [--before FILE...]`: map sign-off. @returns the exit code. */
export async function verifyCommand(flags: VerifyFlags, terminal: Terminal): Promise<number> {
  if (flags.json && flags.markdown)
    throw new UserError('usage', 'found --json and --markdown together, expected one of them');
  if (flags.after === undefined || flags.after.length === 0)
    throw new UserError('usage', 'found no recording after the change, expected telltale verify --after FILE...');
  const vehicle = await loadVehicle(flags.vehicle);
  const map = await loadMap(flags.map);
  const targets = await loadTargets(flags.targets);
  const limits = await loadLimits(flags.limits);
  const { interruption } = terminal;
  let progress: Progress | undefined;
  const open = async (paths: readonly string[]): Promise<InputFile[]> => {
    const inputs: InputFile[] = [];
    for (const path of await expandFolders(paths))
      inputs.push(await openInput(path, (count) => progress?.bytes(count), false));
    return inputs;
  };
  const after = await open(flags.after);
  const before = flags.before === undefined ? [] : await open(flags.before);
  let bytes = 0;
  for (const { size } of [...after, ...before]) bytes += size ?? 0;
  progress = new Progress(terminal, flags.quiet ?? false, bytes);
  interruption?.keep();
  let curves: readonly PullCurves[] = [];
  const found = await verify(after, before, {
    onCurves: (each) => {
      curves = each;
    },
    onProgress: (done, total, name) => progress?.begin(done, total, name),
    interrupted: () => interruption?.requested ?? false,
    ...(vehicle === undefined ? {} : { vehicle }),
    ...(map === undefined ? {} : { map }),
    ...(flags.rate === undefined ? {} : { rate: flags.rate }),
    ...(targets === undefined ? {} : { targets }),
    ...(limits === undefined ? {} : { limits }),
  });
  const unusable = found.inputs.filter(({ error }) => error !== undefined);
  if (!flags.quiet)
    for (const { error } of unusable)
      if (error !== undefined) terminal.err(`telltale: ${error.code}: ${oneLine(error.message)}\n`);
  const shown = flags.redact ? redact(found) : found;
  if (flags.html !== undefined) await writePage(flags.html, verificationPage(shown, curves));
  if (flags.tables !== undefined) await writeTables(flags.tables, shown);
  // Without a usable input there is nothing to report; the document is complete all the same.
  if (flags.json || unusable.length < found.inputs.length) terminal.out(render(shown, flags, terminal));
  if (interruption?.requested) return EXIT.interrupted;
  return unusable.length > 0 ? EXIT.input : EXIT.done;
}

/** One file a table. @throws UserError when the folder cannot be written. */
async function writeTables(folder: string, found: Verification): Promise<void> {
  const at = userPath(folder);
  try {
    await mkdir(at, { recursive: true });
    for (const { name, text } of verificationTables(found)) await writeFile(join(at, name), text);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    throw new UserError('not-writable', `${folder}: the tables could not be written (${code ?? String(error)})`);
  }
}

function render(found: Verification, flags: VerifyFlags, terminal: Terminal): string {
  if (flags.json) return toJson(found);
  const blocks = verificationDocument(found);
  if (flags.markdown) return renderMarkdown(blocks);
  return renderText(blocks, { width: terminal.width, paint: paintFor(terminal.color) });
}
