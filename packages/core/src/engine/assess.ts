import { decide } from '../decision/decision.js';
import type { Prices } from '../decision/prices.js';
import { type Drive, isRefusal } from '../derived/recipe.js';
import { TRIP } from '../derived/trip.js';
import { RULES } from '../rules/index.js';
import type { Rule } from '../rules/rule.js';
import type { Seen } from '../sheet/point.js';
import { UNKNOWN_VEHICLE } from '../vehicle/vehicle.js';
import { chainsOf } from '../verdict/chains.js';
import { systemVerdicts, verdictOf } from '../verdict/verdict.js';
import type { Assessment, InputReport } from './assessment.js';
import { ABORT_CAUTIONS, GENERAL_CAUTIONS } from './cautions.js';
import { openDrive } from './drive.js';
import { DUPLICATE_CODE, SeenRecordings } from './duplicate.js';
import { judge, observe, openNotebooks } from './judge.js';
import { type InputFile, type Loaded, load, ordered, type ReadOptions, unusable } from './load.js';
import { observeWith } from './shared-observation.js';

export interface AssessOptions extends ReadOptions {
  /** Ids of the rules to run; all when absent. Unknown ids throw a RangeError. */
  readonly only?: readonly string[];
  /** Filled-in points of a walk-round sheet: told apart from the results, and part of the decision. */
  readonly sheet?: readonly Seen[];
  /** The user's own price list: what the findings justify is summed up. */
  readonly prices?: Prices;
  /** Called before each input is read and when all are done; for progress on a terminal. */
  readonly onProgress?: (done: number, total: number, name: string) => void;
  /**
   * Called with each recording when the rules have looked at it, for plots. Who keeps a drive keeps its memory: without
   * this, recordings are let go one after the other.
   */
  readonly onDrive?: (drive: Drive) => void;
  /**
   * Asked before each input, and when reading one fails: true = stop here. What was read is judged; each input that was
   * not is reported as unusable with the code `interrupted`.
   */
  readonly interrupted?: () => boolean;
  /** Awaited between two rules of a recording, which can take seconds: lets in what else there is to do. */
  readonly turn?: () => Promise<unknown>;
}

/**
 * Reads the inputs of one car one after the other, lets every rule look at each, and judges what all of them showed.
 * Never throws for bad data: an unusable input carries its error, the others are still assessed.
 * @throws RangeError when `only` names a rule that does not exist.
 */
export async function assess(files: readonly InputFile[], options: AssessOptions = {}): Promise<Assessment> {
  const vehicle = options.vehicle ?? UNKNOWN_VEHICLE;
  const rules = chosen(options.only);
  const notebooks = openNotebooks(rules);
  const seen = new SeenRecordings();
  const inputs: InputReport[] = [];
  for (const [index, file] of files.entries()) {
    if (options.interrupted?.() === true) {
      inputs.push(notRead(file.name));
      continue;
    }
    options.onProgress?.(index, files.length, file.name);
    const { report, recording } = await loadUnless(file, options);
    if (recording === undefined) {
      inputs.push(report);
      continue;
    }
    // A fingerprint reads every sample: not for one file alone.
    const before = files.length > 1 ? seen.sameAs(recording, file.name, report.sha256) : undefined;
    if (before !== undefined) {
      const message = `the same recording as ${before}: not counted again`;
      inputs.push({ ...report, problems: [...report.problems, { code: DUPLICATE_CODE, message }] });
      continue;
    }
    const drive = openDrive(recording, vehicle, index);
    const trip = drive.derive(TRIP);
    inputs.push(isRefusal(trip) ? report : { ...report, distance: { value: trip.distance, unit: 'km' } });
    if (file.observer !== undefined) await observeWith(file.observer, notebooks, drive, options.turn);
    else if (options.turn === undefined) observe(notebooks, drive);
    else
      for (const notebook of notebooks) {
        observe([notebook], drive);
        await options.turn();
      }
    file.observer?.close();
    options.onDrive?.(drive);
  }
  for (const { observer } of files) observer?.close();
  options.onProgress?.(files.length, files.length, '');
  const results = judge(notebooks, vehicle);
  const chains = chainsOf(results);
  const partial = rules.length < RULES.length;
  const verdict = verdictOf(results, rules, partial);
  const looked = (options.sheet ?? []).filter(({ state }) => state !== 'not-seen');
  return {
    schema: 'telltale/assessment@1',
    vehicle: { id: vehicle.id },
    inputs: inputs.map(ordered),
    verdict,
    systems: systemVerdicts(results, rules),
    results,
    ...(chains.length === 0 ? {} : { chains }),
    ...(options.sheet === undefined ? {} : { seen: looked }),
    decision: decide({
      verdict,
      results,
      seen: looked,
      partial,
      ...(options.prices === undefined ? {} : { prices: options.prices }),
    }),
    cautions: [...GENERAL_CAUTIONS, ...ABORT_CAUTIONS],
  };
}

async function loadUnless(file: InputFile, options: AssessOptions): Promise<Loaded> {
  try {
    return await load(file, options, false);
  } catch (error) {
    if (options.interrupted?.() === true) return { report: notRead(file.name) };
    throw error;
  }
}

function notRead(name: string): InputReport {
  return unusable(name, '', {
    code: 'interrupted',
    message: `${name}: not read, because the run was interrupted; what was read before it is judged`,
  });
}

function chosen(only: readonly string[] | undefined): readonly Rule[] {
  if (only === undefined || only.length === 0) return RULES;
  const unknown = only.filter((id) => !RULES.some((rule) => rule.id === id));
  if (unknown.length > 0) throw new RangeError(`no such rule: ${unknown.join(', ')}`);
  return RULES.filter((rule) => only.includes(rule.id));
}
