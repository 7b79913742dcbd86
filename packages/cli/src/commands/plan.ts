import { writeFile } from 'node:fs/promises';
import { basename } from 'node:path';
import {
  type Assessment,
  emptySheet,
  planDocument,
  planFor,
  redact,
  renderHtml,
  renderMarkdown,
  renderText,
  toJson,
  UNKNOWN_VEHICLE,
} from '@telltale/core';
import { EXIT, UserError } from '../exit-code.js';
import { readSideText, userPath } from '../files.js';
import { writePage } from '../page.js';
import { loadVehicle } from '../side-files.js';
import type { Terminal } from '../terminal/output.js';
import { paintFor } from '../terminal/paint.js';

export interface PlanFlags {
  readonly vehicle?: string | undefined;
  readonly json?: boolean | undefined;
  readonly markdown?: boolean | undefined;
  readonly redact?: boolean | undefined;
  readonly html?: string | undefined;
  /** A file, or true = standard output. */
  readonly sheet?: string | boolean | undefined;
}

/** `telltale plan [ASSESSMENT]`: what to record, to read out and to drive. @returns the exit code. */
export async function planCommand(path: string | undefined, flags: PlanFlags, terminal: Terminal): Promise<number> {
  if (flags.json && flags.markdown)
    throw new UserError('usage', 'found --json and --markdown together, expected one of them');
  if (flags.sheet !== undefined && flags.sheet !== false) {
    if (path !== undefined) throw new UserError('usage', `found ${path} beside --sheet, expected one of them`);
    await writeSheet(flags.sheet, terminal);
    return EXIT.done;
  }
  const vehicle = await loadVehicle(flags.vehicle);
  const assessment = path === undefined ? undefined : await loadAssessment(path);
  const found = planFor(vehicle ?? { ...UNKNOWN_VEHICLE, id: assessment?.vehicle.id ?? '' }, assessment);
  const plan = flags.redact ? redact(found) : found;
  if (flags.html !== undefined) await writePage(flags.html, renderHtml(planDocument(plan)));
  if (flags.json) terminal.out(toJson(plan));
  else {
    const blocks = planDocument(plan);
    terminal.out(
      flags.markdown
        ? renderMarkdown(blocks)
        : renderText(blocks, { width: terminal.width, paint: paintFor(terminal.color) }),
    );
  }
  return EXIT.done;
}

/** A sheet that somebody has filled in is not written over. */
async function writeSheet(to: string | true, terminal: Terminal): Promise<void> {
  if (to === true) {
    terminal.out(emptySheet());
    return;
  }
  try {
    await writeFile(userPath(to), emptySheet(), { flag: 'wx' });
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'EEXIST')
      throw new UserError('file-exists', `found ${to}, expected a new file: a filled-in sheet is not written over`);
    throw new UserError('unwritable', `${to}: could not be written (${code ?? String(error)})`);
  }
  terminal.err(`telltale: wrote ${to}\n`);
}

/** @throws UserError when the file is no assessment. */
async function loadAssessment(path: string): Promise<Assessment> {
  const name = basename(path);
  const text = await readSideText(path, 'assessment');
  let found: unknown;
  try {
    found = JSON.parse(text);
  } catch {
    throw new UserError(
      'bad-assessment',
      `${name}: no JSON; expected what telltale assess FILE --json wrote (a recording goes to assess first)`,
    );
  }
  const { schema, results } = (found ?? {}) as Partial<Assessment>;
  if (schema !== 'telltale/assessment@1' || !Array.isArray(results))
    throw new UserError(
      'bad-assessment',
      `${name}: found schema ${JSON.stringify(schema) ?? 'none'}, expected telltale/assessment@1 as telltale assess --json writes it`,
    );
  return found as Assessment;
}
