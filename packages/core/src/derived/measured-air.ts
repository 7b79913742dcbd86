import { LOAD_DENSITY } from '../physics/air-mass.js';
import { type Drive, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

export interface MeasuredAir {
  /** g/s of the whole engine, row by row; NaN = no sample. */
  readonly values: Float64Array;
  /** Relative standard uncertainty of what all rows share. */
  readonly u: number;
  /** Channel it was made from. */
  readonly source: string;
}

/** How well an air meter tells the air; relative standard uncertainty. Common practice, no source. */
const METER_U = 0.04;

export const MEASURED_AIR = recipe<MeasuredAir>({
  id: 'measuredAir',
  about:
    'Air flow (g/s) as the control unit knows it: air meter (of both banks where each has its own), else air mass per stroke, else absolute load (SAE J1979 PID 43).',
  compute(drive) {
    const samples = samplesOf(drive);
    const speed = samples.held('engineSpeed');
    const meter = meterOf(drive);
    if (meter !== undefined) return meter;
    const { cylinders, displacement } = drive.vehicle.engine;
    const stroke = usable(drive, 'airMassPerStroke');
    if (stroke !== undefined && cylinders !== undefined && speed !== undefined) {
      const values = stroke.map((mg, i) => (mg * cylinders * speed[i]!) / 120_000);
      return { values, u: METER_U, source: 'airMassPerStroke' };
    }
    const absolute = usable(drive, 'engineLoadAbsolute');
    if (absolute !== undefined && displacement !== undefined && speed !== undefined) {
      const values = absolute.map((share, i) => (share * LOAD_DENSITY * displacement * speed[i]!) / 12_000);
      return { values, u: METER_U, source: 'engineLoadAbsolute' };
    }
    return refuse('no air flow, because airMassFlow is absent', { channels: ['airMassFlow'] });
  },
});

/** The common meter, or the sum of one a bank. */
function meterOf(drive: Drive): MeasuredAir | undefined {
  const whole = usable(drive, 'airMassFlow');
  if (whole !== undefined) return { values: whole, u: METER_U, source: 'airMassFlow' };
  const one = usable(drive, 'airMassFlow.bank1');
  const two = usable(drive, 'airMassFlow.bank2');
  if (one === undefined || two === undefined) return undefined;
  return { values: one.map((x, i) => x + two[i]!), u: METER_U, source: 'airMassFlow of both banks' };
}

function usable(drive: Drive, id: string): Float64Array | undefined {
  const channel = drive.channel(id);
  return channel === undefined || channel.quality.constant ? undefined : samplesOf(drive).held(id);
}
