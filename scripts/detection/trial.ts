import { createHash } from 'node:crypto';
import { assess, type Measure, type Result, readProfile } from '@telltale/core';
import {
  drawDrive,
  FAULTS,
  memoryFiles,
  Random,
  type RecordSpec,
  record,
  type Simulation,
  simulate,
  type TrueFinding,
  toCsv,
} from '../simulate/index.js';
import type { Trial } from './plan.js';

/** What one rule said of one drive, beside the truth. */
export interface Answer {
  readonly rule: string;
  readonly outcome: Result['outcome'];
  readonly severity?: string;
  readonly summary: string;
  readonly measures: Readonly<Record<string, number | readonly number[]>>;
  readonly truth: TrueFinding;
  /** How far each timed shift is off the truth, s, and one sample interval with 10 ms to spare. */
  readonly shifts?: readonly { readonly error: number; readonly allowed: number }[];
}

export interface Report {
  readonly trial: Trial;
  readonly kind: string;
  readonly car: string;
  readonly answers: readonly Answer[];
  /** The file could not be read at all. */
  readonly unusable?: string;
}

/** The machine's own hash is quicker than the portable one of the library. */
function hasherOf() {
  const hash = createHash('sha256');
  return { update: (part: Uint8Array) => hash.update(part), hex: () => hash.digest('hex') };
}

/** `only` = rules to judge, all when empty. Simulates, writes, reads back through the public library from bytes, and sets the answers beside the truth. */
export async function run(trial: Trial, only: readonly string[] = []): Promise<Report> {
  const drawn = drawDrive(trial.wish);
  const sim = simulate(drawn.spec);
  const { bytes } = toCsv(record(sim, drawn.record), drawn.dialect);
  const profile = readProfile(drawn.profile, 'profile');
  if (!profile.ok) throw new Error(profile.faults.map((fault) => fault.message).join('; '));
  const read = memoryFiles(sim.plant.memory, new Random(trial.wish.seed, 32), sim.car.engine.revLimit);
  const utf8 = new TextEncoder();
  const inputs = [
    { name: 'drive.csv', source: bytes, hasher: hasherOf() },
    { name: 'stored.csv', source: utf8.encode(read.stored) },
    { name: 'codes.txt', source: utf8.encode(read.codes) },
  ];
  const assessment = await assess(inputs, {
    vehicle: profile.value,
    ...(only.length > 0 ? { only } : {}),
  });
  const error = assessment.inputs.find((input) => input.error !== undefined)?.error;
  const families = FAULTS.filter(({ rule }) => only.length === 0 || only.includes(rule));
  const answers = families.map((family): Answer => {
    const result = assessment.results.find((each) => each.rule === family.rule);
    if (result === undefined) throw new Error(`rule ${family.rule} gave no result`);
    const measures = 'measures' in result && result.measures !== undefined ? plain(result.measures) : {};
    const flagged = family.flag !== undefined && Number(measures[family.flag] ?? 0) > 0;
    const outcome = flagged ? 'finding' : result.outcome;
    const severity = result.outcome === 'finding' ? (result.severity ?? 'watch') : 'watch';
    return {
      rule: family.rule,
      outcome,
      ...(outcome === 'finding' ? { severity } : {}),
      summary: result.summary,
      measures,
      truth: family.truth(sim),
      ...(family.rule === 'transmission.shift-quality' && 'details' in result
        ? { shifts: timed(result.details, sim, drawn.record) }
        : {}),
    };
  });
  const base = { trial, kind: drawn.kind, car: sim.car.id, answers };
  return error === undefined ? base : { ...base, unusable: `${error.code}: ${error.message}` };
}

/** A shift of the recording is that of the simulation with the same gears around its time. */
function timed(
  details: Readonly<Record<string, unknown>> | undefined,
  sim: Simulation,
  { rate, from: begins = 0 }: RecordSpec,
): { error: number; allowed: number }[] {
  const shifts = (details?.shifts ?? []) as readonly { from: number; to: number; pair: string; duration: number }[];
  return shifts.flatMap(({ from, to, pair, duration }) => {
    const middle = begins + (from + to) / 2;
    const same = sim.truth.shifts.filter(({ t10, t90, gearBefore, gearAfter }) => {
      return `${gearBefore}-${gearAfter}` === pair && Math.abs((t10 + t90) / 2 - middle) < 1;
    });
    const own = same[0];
    if (own === undefined || same.length > 1) return [];
    return [{ error: Math.abs(duration - (own.t90 - own.t10)), allowed: 1 / rate + 0.01 }];
  });
}

function plain(measures: Readonly<Record<string, Measure>>): Record<string, number | readonly number[]> {
  return Object.fromEntries(Object.entries(measures).map(([name, each]) => [name, each.value]));
}
