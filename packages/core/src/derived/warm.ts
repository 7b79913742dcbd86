import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

export interface Warm {
  /** 1 = warm. */
  readonly mask: Uint8Array;
  /** Seconds at which it first was warm; NaN when it never was. */
  readonly since: number;
  readonly source: string;
  /** The limit that was used, degC. */
  readonly limit: number;
}

/** Coolant at which an engine counts as warm, degC; common practice, no source. */
const ENGINE_WARM = 70;
/** Oil at which it carries full load (job caution: hard use only with oil >= 80 degC); common practice, no source. */
const OIL_WARM_FROM = 80;

export const WARM = recipe<Warm>({
  id: 'warm',
  about: 'Engine warm: coolant >= 70 °C, or engine oil where coolant is not recorded.',
  compute(drive) {
    return (
      warmBy(drive, 'coolantTemperature', ENGINE_WARM) ??
      warmBy(drive, 'engineOilTemperature', ENGINE_WARM) ??
      refuse('not known whether the engine is warm, because coolantTemperature is absent', {
        channels: ['coolantTemperature'],
      })
    );
  },
});

export const OIL_WARM = recipe<Warm>({
  id: 'oilWarm',
  about: 'Engine oil warm: oil >= 80 °C.',
  compute(drive) {
    return (
      warmBy(drive, 'engineOilTemperature', OIL_WARM_FROM) ??
      refuse('not known whether the oil is warm, because engineOilTemperature is absent', {
        channels: ['engineOilTemperature'],
      })
    );
  },
});

/** Leaves two kelvin lower, so that a thermostat's swing does not cut a warm drive into pieces. */
function warmBy(drive: Drive, id: string, limit: number): Warm | undefined {
  const values = samplesOf(drive).held(id);
  const channel = drive.channel(id);
  if (values === undefined || channel === undefined || channel.quality.samples === 0) return undefined;
  const mask = new Uint8Array(values.length);
  let warm = false;
  let since = Number.NaN;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (x >= limit) warm = true;
    else if (x < limit - 2) warm = false;
    // A gap of the sensor keeps the state: a block of metal does not cool in a second.
    if (!warm) continue;
    mask[i] = 1;
    if (Number.isNaN(since)) since = drive.time[i]!;
  }
  return { mask, since, source: id, limit };
}

/** 1 where the engine turns (>= 300 rpm). */
const RUNNING = recipe<Uint8Array>({
  id: 'engineRunning',
  about: 'Engine turning by itself: engine speed >= 300 rpm.',
  compute(drive) {
    const speed = samplesOf(drive).held('engineSpeed');
    if (speed === undefined)
      return refuse('no engineRunning, because engineSpeed is absent', { channels: ['engineSpeed'] });
    const mask = new Uint8Array(speed.length);
    for (let i = 0; i < speed.length; i++) if (speed[i]! >= 300) mask[i] = 1;
    return mask;
  },
});

/** Engine running, taken as always when engine speed is absent. */
export function runningOrAll(drive: Drive): Uint8Array {
  const running = drive.derive(RUNNING);
  return isRefusal(running) ? new Uint8Array(drive.time.length).fill(1) : running;
}
