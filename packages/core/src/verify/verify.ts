import { maskOf } from '../derived/intervals.js';
import { type Drive, isRefusal, type Refusal } from '../derived/recipe.js';
import { PULLS } from '../derived/segments.js';
import type { InputReport } from '../engine/assessment.js';
import { ABORT_CAUTIONS, GENERAL_CAUTIONS } from '../engine/cautions.js';
import { openDrive } from '../engine/drive.js';
import { inTenths } from '../engine/in-tenths.js';
import type { InputFile, ReadOptions } from '../engine/load.js';
import { load } from '../engine/load.js';
import type { Recording } from '../recording/recording.js';
import { UNKNOWN_VEHICLE } from '../vehicle/vehicle.js';
import { admittedOf } from './admitted.js';
import { applyTargets, asksFullLoad } from './apply-targets.js';
import { type Axes, axesOf } from './axes.js';
import { TUNER_CAUTIONS } from './cautions.js';
import { cellChanges } from './cell-change.js';
import { changeOf, unlikeConditions } from './change.js';
import {
  type CorrectionSamples,
  collectCorrection,
  correctionKind,
  correctionOf,
  noCorrection,
} from './corrections.js';
import { curvesOf, type PullCurves } from './curves.js';
import { dynamicsOf } from './dynamics.js';
import { eventsOf, type PassingEvents } from './events.js';
import { groupsOf } from './groups.js';
import { checkLimit, FULL, limitFor, type Measured } from './limit-check.js';
import type { OwnLimits } from './limits-file.js';
import type { MeasureDefinition } from './measure-definition.js';
import { MEASURES, QUANTITIES } from './measures.js';
import { type PullTrace, pullsOf, type Side } from './pull.js';
import { pullReports } from './pull-reports.js';
import { reportedOf } from './reported.js';
import { type Identity, identityOf, unlikeCars } from './same-car.js';
import { type Made, sessionsOf } from './sessions.js';
import { type Readings, readingsOf } from './signal.js';
import { collect, type SampleSet } from './table-samples.js';
import { tablesOf } from './tables.js';
import type { Targets } from './targets-file.js';
import { toRecord } from './to-record.js';
import type { LimitResult, Verification, VerifyProblem } from './verification.js';

export interface VerifyOptions extends ReadOptions {
  readonly targets?: Targets;
  readonly limits?: OwnLimits;
  /** Called before each input is read and when all are done. */
  readonly onProgress?: (done: number, total: number, name: string) => void;
  /** Called once with every pull over engine speed, for a page to draw; no part of the sheet. */
  readonly onCurves?: (curves: readonly PullCurves[]) => void;
  /** Asked before each input: true = stop here; what was read is judged. */
  readonly interrupted?: () => boolean;
}

/**
 * Holds the pulls after a change of map against limits, and against the pulls before it. Never throws for bad data: an
 * unusable input carries its error. Deterministic.
 * @param after recordings of the map that is signed off; @param before recordings of the map before it, may be empty
 */
export async function verify(
  after: readonly InputFile[],
  before: readonly InputFile[] = [],
  options: VerifyOptions = {},
): Promise<Verification> {
  const vehicle = options.vehicle ?? UNKNOWN_VEHICLE;
  const files = [
    ...after.map((file) => ({ file, side: 'after' as const })),
    ...before.map((file) => ({ file, side: 'before' as const })),
  ];
  const inputs: ({ side: Side } & InputReport)[] = [];
  const pulls: PullTrace[] = [];
  const identities: Identity[] = [];
  const made: Made[] = [];
  const passing: PassingEvents[] = [];
  const refusals: { side: Side; file: string; refusal: Refusal }[] = [];
  const problems: VerifyProblem[] = [];
  const seen = new Map<string, string>();
  const drawn: Drawn = { axes: undefined, sets: new Map(), before: new Map(), correction: undefined, stretches: 0 };
  for (const [index, { file, side }] of files.entries()) {
    if (options.interrupted?.() === true) {
      const message = `${file.name}: not read, because the run was interrupted; what was read before it is judged`;
      inputs.push({ side, ...empty(file.name), error: { code: 'interrupted', message } });
      continue;
    }
    options.onProgress?.(index, files.length, file.name);
    const { report, recording } = await load(file, options, false);
    inputs.push({ side, ...report });
    if (recording === undefined) continue;
    if (recording.readOut !== undefined) {
      problems.push(warning('no-recording', `${file.name} holds stored values or codes, no recording: not used here.`));
      continue;
    }
    const twin = seen.get(report.sha256);
    if (twin !== undefined) {
      problems.push(
        warning('duplicate-recording', `${file.name} is the same recording as ${twin}: not counted again.`),
      );
      continue;
    }
    seen.set(report.sha256, file.name);
    problems.push(...missingAxes(options.targets, recording.channels, file.name));
    made.push({ input: index, side, start: recording.startedAt, duration: recording.duration });
    const whole = applyTargets(recording, options.targets, fullLoadOf(recording, options));
    const drive: Drive = openDrive(whole, vehicle, index);
    const readings = readingsOf(drive);
    // Tables take ten samples a second at most: of a fast log the tenths serve.
    const tenths = inTenths(whole, LONG);
    const slow: Drive = tenths === whole ? drive : openDrive(tenths, vehicle, index);
    identities.push(identityOf(drive, side, file.name));
    drawUp(slow, side, drawn, options.targets, slow === drive ? readings : readingsOf(slow));
    passing.push(eventsOf(drive, side));
    const found = pullsOf(drive, side, QUANTITIES, readings);
    if (isRefusal(found)) refusals.push({ side, file: file.name, refusal: found });
    else pulls.push(...found);
  }
  options.onProgress?.(files.length, files.length, '');
  options.onCurves?.(curvesOf(numbered(pulls)));
  return conclude({ inputs, pulls: numbered(pulls), identities, made, passing, refusals, problems, drawn }, options);
}

/** 1 where the pedal is on the floor, by the recording as it is; undefined where no table asks for it, or nothing tells. */
function fullLoadOf(
  recording: Recording,
  { targets, vehicle = UNKNOWN_VEHICLE }: VerifyOptions,
): Uint8Array | undefined {
  if (!asksFullLoad(targets)) return undefined;
  const pulls = openDrive(recording, vehicle, 0).derive(PULLS);
  return isRefusal(pulls) ? undefined : maskOf(pulls, recording.rows);
}

/** Rows of a recording from which tables are drawn up from its tenths of a second. */
const LONG = 20_000;

interface Read {
  readonly inputs: Verification['inputs'];
  readonly pulls: readonly PullTrace[];
  readonly identities: readonly Identity[];
  readonly made: readonly Made[];
  readonly passing: readonly PassingEvents[];
  readonly refusals: readonly { readonly side: Side; readonly file: string; readonly refusal: Refusal }[];
  readonly problems: readonly VerifyProblem[];
  readonly drawn: Drawn;
}

/** Samples of the tables, gathered drive by drive. */
interface Drawn {
  /** Of the first drive that has a load; one that lacks that load adds nothing. */
  axes: Axes | undefined;
  readonly sets: Map<string, SampleSet>;
  readonly before: Map<string, SampleSet>;
  correction: CorrectionSamples | undefined;
  stretches: number;
}

function drawUp(drive: Drive, side: Side, drawn: Drawn, targets: Targets | undefined, readings: Readings): void {
  drawn.axes ??= axesOf(drive, targets);
  if (drawn.axes === undefined) return;
  const admitted = admittedOf(drive);
  collect(drive, drawn.axes, admitted, drawn.stretches, side === 'after' ? drawn.sets : drawn.before, readings);
  const kind = correctionKind(drive);
  if (kind !== undefined && side === 'after') {
    drawn.correction ??= noCorrection(kind);
    if (drawn.correction.kind === kind)
      collectCorrection(drive, admitted, drawn.stretches, targets, drawn.correction, readings);
  }
  drawn.stretches += admitted.stretches;
}

/** From pulls to the sheet; no file is read any more. */
function conclude(
  { inputs, pulls, identities, made, passing, refusals, problems, drawn }: Read,
  options: VerifyOptions,
): Verification {
  const vehicle = options.vehicle ?? UNKNOWN_VEHICLE;
  const measured = new Map<MeasureDefinition, Measured>(
    MEASURES.map((measure) => [measure, new Map(pulls.map((pull) => [pull, measure.read(pull)]))]),
  );
  const limits = MEASURES.flatMap((measure): LimitResult[] => {
    const limit = limitFor(measure, vehicle, options.limits);
    return limit === undefined ? [] : [checkLimit(measure, limit, measured.get(measure)!)];
  });
  const all: VerifyProblem[] = [
    ...problems,
    ...refusals.map(({ file, refusal }) => warning('no-pull', `${file}: ${refusal.reason}.`)),
    ...unlikeCars(identities, vehicle.engine.cylinders),
    ...noTargets(limits),
  ];
  const groups = all.some(({ severity }) => severity === 'refused') ? [] : groupsOf(pulls);
  const change = groups[0] === undefined ? undefined : changeOf(groups[0], options.limits?.primary, sessionsOf(made));
  if (change !== undefined)
    for (const text of unlikeConditions(change)) all.push(warning('unlike-conditions', `${upper(text)}.`));
  const both = (['before', 'after'] as const).every((side) => pulls.some((pull) => pull.side === side));
  if (change === undefined && both && !all.some(({ severity }) => severity === 'refused'))
    all.push(
      warning(
        'nothing-to-compare',
        'No pull before is like a pull after in gear, range of engine speed and temperature.',
      ),
    );
  const { axes } = drawn;
  const tables = axes === undefined ? [] : tablesOf(drawn.sets, axes);
  const refused = all.some(({ severity }) => severity === 'refused');
  const cells = axes === undefined || refused ? [] : cellChanges(drawn.before, drawn.sets, axes);
  const correction =
    axes === undefined || drawn.correction === undefined
      ? undefined
      : correctionOf(drawn.correction, axes, options.targets);
  const shown = limits.filter(({ outcome }) => outcome !== 'not-applicable');
  return {
    schema: 'telltale/verification@1',
    vehicle: { id: vehicle.id },
    inputs,
    ...outcomeOf(limits, pulls),
    problems: all,
    limits,
    reported: reportedOf(pulls, measured, limits),
    ...(change === undefined ? {} : { change }),
    pulls: pullReports(pulls, groups, measured),
    dynamics: dynamicsOf(passing),
    ...(tables.length === 0 ? {} : { tables }),
    ...(cells.length === 0 ? {} : { cellChanges: cells }),
    ...(correction === undefined ? {} : { correction }),
    record: toRecord(shown, pulls, groups),
    cautions: [...TUNER_CAUTIONS, ...ABORT_CAUTIONS, ...GENERAL_CAUTIONS],
  };
}

/** The worst first. */
function outcomeOf(
  limits: readonly LimitResult[],
  pulls: readonly PullTrace[],
): Pick<Verification, 'outcome' | 'reasons'> {
  const broken = limits.filter(({ outcome }) => outcome === 'broken');
  const open = limits.filter(({ outcome }) => outcome === 'not-shown');
  const essential = limits.filter(({ id }) => MEASURES.some((each) => each.id === id && each.essential === true));
  const unheld = essential.filter(({ outcome }) => outcome !== 'held');
  const after = pulls.filter(({ side }) => side === 'after').length;
  const reasons = [
    ...(broken.length > 0
      ? [
          `${broken.length} of ${limits.length - open.length} limits that could be asked are broken: ${broken.map(({ title }) => title).join('; ')}`,
        ]
      : []),
    ...(after < FULL
      ? [
          `${after === 0 ? 'no pull' : after === 1 ? '1 pull' : `${after} pulls`} after the change: a limit counts as held from ${FULL}`,
        ]
      : []),
    ...(open.length > 0 ? [`not shown: ${open.map(({ title }) => title).join('; ')}`] : []),
  ];
  if (broken.length > 0) return { outcome: 'broken', reasons };
  if (unheld.length > 0) return { outcome: 'not-shown', reasons };
  return { outcome: 'inside', reasons: [`every limit that could be asked held in ${after} pulls`, ...reasons] };
}

/** Limits against a target of which nobody told the target. */
function noTargets(limits: readonly LimitResult[]): VerifyProblem[] {
  const missing = [
    ...new Set(limits.flatMap(({ missing: each }) => each?.channels ?? []).filter((id) => id.endsWith('Target'))),
  ];
  return missing.length === 0
    ? []
    : [
        warning(
          'no-target',
          `No target is recorded for ${missing.join(', ')}: what depends on it is not shown. Record it, or state it with --targets.`,
        ),
      ];
}

/** A table over a load that the recording does not hold. */
function missingAxes(
  targets: Targets | undefined,
  channels: ReadonlyMap<string, unknown>,
  file: string,
): VerifyProblem[] {
  return [...(targets?.targets ?? [])].flatMap(([id, { load }]) =>
    load === undefined || channels.has(load.channel)
      ? []
      : [warning('no-load-axis', `${file}: ${id} is given over ${load.channel}, which is not recorded: not used.`)],
  );
}

/** Pulls are counted a side, through all its files. */
function numbered(pulls: readonly PullTrace[]): PullTrace[] {
  const count = { before: 0, after: 0 };
  return pulls.map((pull) => {
    count[pull.side]++;
    return { ...pull, number: count[pull.side] };
  });
}

function warning(code: string, message: string): VerifyProblem {
  return { code, severity: 'warning', message };
}

function empty(file: string): InputReport {
  return { file, sha256: '', kind: 'unusable', channels: [], unrecognised: [], problems: [] };
}

function upper(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
