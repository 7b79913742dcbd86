import { quantile } from '../math/quantile.js';
import { PEDAL_RELATIVE } from './pedal-relative.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { heldOf, samplesOf } from './samples.js';

export interface PedalReleased {
  /** 1 = foot off the pedal. */
  readonly mask: Uint8Array;
  /** Channel that says so. */
  readonly source: string;
  /** False when it is concluded from throttle or load, not from a pedal. */
  readonly certain: boolean;
}

/** Pedal play that still is released, % of travel. */
const PLAY = 3;
/** The coarsest pedal of a control unit steps by less than this, %; larger steps are the driver's, not the sensor's. */
const COARSE = 6;

export const PEDAL_RELEASED = recipe<PedalReleased>({
  id: 'pedalReleased',
  about:
    'Foot off the accelerator: relative pedal below 3 %; without a pedal channel the idle contact, else throttle near its rest or, last, calculated load low (lower certainty).',
  compute(drive) {
    const pedal = drive.derive(PEDAL_RELATIVE);
    if (!isRefusal(pedal)) {
      return {
        mask: below(pedal.values, Math.max(PLAY, Math.min(COARSE, 1.5 * pedal.quantum))),
        source: pedal.source,
        certain: true,
      };
    }
    return (
      fromSwitch(drive) ??
      fromThrottle(drive) ??
      fromLoad(drive) ??
      refuse('no pedalReleased, because pedalPosition is absent', {
        channels: ['pedalPosition'],
      })
    );
  },
});

/** The control unit's own idle contact. */
function fromSwitch(drive: Drive): PedalReleased | undefined {
  const channel = drive.channel('idleSwitch');
  const values = samplesOf(drive).held('idleSwitch');
  if (channel === undefined || values === undefined || channel.quality.constant) return undefined;
  const mask = new Uint8Array(values.length);
  for (let i = 0; i < values.length; i++) if (values[i]! >= 0.5) mask[i] = 1;
  return { mask, source: 'idleSwitch', certain: true };
}

/** Throttle within 4 points of its 2nd percentile while the engine turns; a warm idle moves it by less. */
function fromThrottle(drive: Drive): PedalReleased | undefined {
  for (const id of ['throttlePositionRelative', 'throttlePosition']) {
    const channel = drive.channel(id);
    const values = samplesOf(drive).held(id);
    if (channel === undefined || values === undefined || channel.quality.constant) continue;
    const rest = quantile(running(drive, values), 0.02);
    if (Number.isNaN(rest)) continue;
    return { mask: below(values, rest + Math.max(4, 1.5 * channel.quality.quantum)), source: id, certain: false };
  }
  return undefined;
}

/** Calculated load at or below 35 %: what a warm engine needs at idle with accessories on (common practice). */
function fromLoad(drive: Drive): PedalReleased | undefined {
  const channel = drive.channel('engineLoad');
  const values = samplesOf(drive).held('engineLoad');
  if (channel === undefined || values === undefined || channel.quality.constant) return undefined;
  return { mask: below(values, 35), source: 'engineLoad', certain: false };
}

function below(values: Float64Array, limit: number): Uint8Array {
  const mask = new Uint8Array(values.length);
  for (let i = 0; i < values.length; i++) if (values[i]! <= limit) mask[i] = 1;
  return mask;
}

/** The values while the engine turns; all of them when engine speed is absent. */
function running(drive: Drive, values: Float64Array): Float64Array {
  const speed = heldOf(drive, 'engineSpeed', 'engine running');
  if (isRefusal(speed)) return values;
  return values.map((x, i) => (speed[i]! >= 300 ? x : Number.NaN));
}
