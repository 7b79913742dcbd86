import { basename } from 'node:path';
import {
  type Assessment,
  planDocument,
  planFor,
  renderMarkdown,
  renderText,
  toJson,
  UNKNOWN_VEHICLE,
} from '@telltale/core';
import { EXIT, UserError } from '../exit-code.js';
import { readSideText } from '../files.js';
import { loadVehicle } from '../side-files.js';
import type { Terminal } from '../terminal/output.js';
import { paintFor } from '../terminal/paint.js';

export interface PlanFlags {
  readonly vehicle?: string | undefined;
  readonly json?: boolean | undefined;
  readonly markdown?: boolean | undefined;
}

/** `telltale plan [ASSESSMENT]`: what to record, to read out and to drive. @returns the exit code. */
export async function planCommand(path: string | undefined, flags: PlanFlags, terminal: Terminal): Promise<number> {
  if (flags.json && flags.markdown)
    throw new UserError('usage', 'found --json and --markdown together, expected one of them');
  const vehicle = await loadVehicle(flags.vehicle);
  const assessment = path === undefined ? undefined : await loadAssessment(path);
  const plan = planFor(vehicle ?? { ...UNKNOWN_VEHICLE, id: assessment?.vehicle.id ?? '' }, assessment);
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
