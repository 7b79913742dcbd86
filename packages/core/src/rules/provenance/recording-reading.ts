import { CLOCK_RESTARTS } from '../../derived/clock-restarts.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import type { Channel } from '../../recording/recording.js';
import type { View } from '../rule.js';
import { type Bridge, bridgesOf } from './recording-bridges.js';
import { type Copy, copiesOf } from './recording-copies.js';
import { type CounterFault, odometerFaults, runTimeFaults } from './recording-counters.js';
import { scaledStretches } from './recording-edits.js';
import { leapsOf, type Seam, seamsOf, toldUpTo } from './recording-jumps.js';
import { smoothedStretches } from './recording-smoothing.js';
import { type OffSteps, offSteps } from './recording-steps.js';
import { type Whole, wholeColumns } from './recording-whole.js';
import { type Edit, type Windows, windowsOf } from './recording-windows.js';

/** States that cannot leap, and counters. */
export const STATES = [
  'coolantTemperature',
  'engineOilTemperature',
  'transmissionOilTemperature',
  'ambientTemperature',
  'barometricPressure',
  'fuelLevel',
  'engineRunTime',
  'odometer',
] as const;
/** Channels with noise and movement of their own. */
export const LIVELY = [
  'engineSpeed',
  'vehicleSpeed',
  'gpsSpeed',
  'wheelSpeed',
  'outputShaftSpeed',
  'pedalPosition',
  'throttlePosition',
  'manifoldPressure',
  'boostPressure',
  'airMassFlow',
  'engineLoad',
  'engineTorque',
  'ignitionAdvance',
  'lambda',
  'fuelTrimShort',
  'systemVoltage',
  'longitudinalAcceleration',
] as const;
/** Read only beside another channel that says the same. */
export const WITNESSES = ['inputShaftSpeed', 'engineLoadAbsolute', 'gear'] as const;
/**
 * Of these the noise is compared: sensors that are never still on the move. Not the pressure before the throttle, which is
 * that of the calm air outside for most of a drive.
 */
const NOISY: readonly string[] = [
  'engineSpeed',
  'vehicleSpeed',
  'wheelSpeed',
  'manifoldPressure',
  'airMassFlow',
  'engineTorque',
  'engineLoad',
  'longitudinalAcceleration',
];

export interface RecordingReading {
  readonly seams: readonly Seam[];
  readonly counters: readonly CounterFault[];
  readonly copies: readonly Copy[];
  readonly bridges: readonly Bridge[];
  readonly edits: readonly Edit[];
  readonly steps: readonly OffSteps[];
  readonly whole: Whole;
  /** States and counters, lively channels, channels of which the noise was compared. */
  readonly states: number;
  readonly lively: number;
  readonly noisy: number;
  /** Gaps longer than a minute, s of all of them. */
  readonly gaps: number;
  readonly lost: number;
  readonly pieces: number;
  readonly duration: number;
  readonly channels: readonly Channel[];
}

type RecordingView = View<
  never,
  (typeof STATES)[number] | (typeof LIVELY)[number] | (typeof WITNESSES)[number],
  readonly [typeof SAMPLES, typeof CLOCK_RESTARTS]
>;

/** A recording shorter than this (s) shows nothing; a gap is told from here. */
const SHORTEST = 60;
const GAP = 60;

export function readRecording(view: RecordingView): RecordingReading | Refusal {
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const found = view.derive(CLOCK_RESTARTS);
  const restarts = isRefusal(found) ? [] : found.at;
  const { time } = view;
  const states = STATES.flatMap((id) => view.optional(id) ?? []).filter(({ quality }) => !quality.constant);
  const lively = LIVELY.flatMap((id) => view.family(id)).filter(({ quality }) => !quality.constant);
  if (view.duration < SHORTEST || (states.length < 2 && lively.length < 3))
    return refuse(
      view.duration < SHORTEST
        ? 'too short to tell whether the recording is whole'
        : 'too few columns to tell whether the recording is whole',
      { channels: ['coolantTemperature', 'engineOilTemperature', 'engineRunTime', 'engineSpeed', 'vehicleSpeed'] },
    );
  const witnesses = WITNESSES.flatMap((id) => view.family(id)).filter(({ quality }) => !quality.constant);
  const noisy = lively.filter(({ id }) => NOISY.includes(id.split('.')[0]!));
  const runTime = view.optional('engineRunTime');
  const odometer = view.optional('odometer');
  const told = toldUpTo(lively, time);
  const windows = windowsOf(time);
  const gaps = gapsOf(time, windows, Math.max(GAP, samples.maxStep));
  return {
    seams: seamsOf([...states, ...lively].flatMap((channel) => leapsOf(channel, samples, time, restarts, told))),
    counters: [
      ...(runTime === undefined ? [] : runTimeFaults(runTime, samples.held('engineSpeed'), samples, time, restarts)),
      ...(odometer === undefined ? [] : odometerFaults(odometer, time, restarts)),
    ],
    copies: copiesOf(lively, time),
    bridges: bridgesOf(lively, time, windows),
    steps: offSteps([...states.filter(({ unit }) => unit === 'degC'), ...lively], time, windows),
    whole: wholeColumns([...lively, ...witnesses], samples, time, windows, view.vehicle.engine.displacement),
    edits: [...scaledStretches(lively, samples, time, windows), ...smoothedStretches(noisy, samples, time, windows)],
    states: states.length,
    lively: lively.length,
    noisy: noisy.length,
    gaps: gaps.length,
    lost: gaps.reduce((sum, step) => sum + step, 0),
    pieces: restarts.length + 1,
    duration: view.duration,
    channels: [...states, ...lively],
  };
}

/** Steps of the time axis (s) that are longer than `most`, which is more than a window: each ends one. */
function gapsOf(time: Float64Array, windows: Windows, most: number): readonly number[] {
  return windows.slice(1).flatMap(([first]) => {
    const step = time[first]! - time[first - 1]!;
    return step > most ? [step] : [];
  });
}
