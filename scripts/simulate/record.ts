import { Random } from './random.js';
import type { Simulation } from './simulate.js';

/** How one channel is logged. Unset fields come from DEFAULT_SENSORS. */
export interface ChannelSetting {
  readonly id: string;
  /** Fresh values per second (Hz); between them the last one is repeated. Default: the rate of the recording. */
  readonly refresh?: number;
  /** Standard deviation of the noise, channel unit. */
  readonly noise?: number;
  /** Step of the digital value, channel unit; 0 = none. */
  readonly quantum?: number;
  /** Delay of the value (s). */
  readonly lag?: number;
  readonly scale?: number;
  readonly offset?: number;
  readonly minimum?: number;
  readonly maximum?: number;
}
/** A stretch in which a channel does not tell the truth; `channels` empty = all. */
export interface Disturbance {
  readonly kind: 'empty' | 'hold' | 'value' | 'spike';
  readonly channels: readonly string[];
  readonly from: number;
  readonly to: number;
  /** Written instead of the truth for `value`; for `spike` at single samples, `share` of them. */
  readonly value?: number;
  readonly share?: number;
}
export interface RecordSpec {
  readonly seed: number;
  readonly rate: number; // rows per second
  readonly channels: readonly (string | ChannelSetting)[];
  readonly from?: number;
  readonly to?: number;
  /** Share of rows that the logger lost. */
  readonly lostRows?: number;
  /** Standard deviation of the time between rows over its mean. */
  readonly jitter?: number;
  readonly disturbances?: readonly Disturbance[];
  /** What somebody did to the file afterwards. */
  readonly tampered?: readonly Tampering[];
}
/** A change of a finished recording. */
export type Tampering = (recorded: Recorded, random: Random) => Recorded;
export interface RecordedColumn {
  readonly id: string;
  /** One value a row in the channel's own unit; NaN = no sample. */
  readonly values: Float64Array;
  /** True at the rows where a new value arrived. */
  readonly fresh: Uint8Array;
  readonly quantum: number;
}
export interface Recorded {
  /** s from the start of the drive. */
  readonly time: Float64Array;
  readonly rate: number;
  readonly columns: readonly RecordedColumn[];
}

type Sensor = readonly [noise: number, quantum: number, minimum: number, maximum: number];
/** Noise and steps: SAE J1979 byte scaling where a service 01 value exists (validation table), else common practice. */
export const DEFAULT_SENSORS: Readonly<Record<string, Sensor>> = {
  engineSpeed: [4, 0.25, 0, 16383.75],
  vehicleSpeed: [0.05, 0.01, 0, 400],
  pedalPosition: [0.05, 100 / 255, 0, 100],
  throttlePosition: [0.1, 100 / 255, 0, 100],
  engineLoad: [0.25, 100 / 255, 0, 100],
  engineLoadAbsolute: [0.25, 100 / 255, 0, 25700],
  manifoldPressure: [0.35, 0.1, 0, 400],
  coolantPressure: [0.5, 0.5, -50, 400],
  crankcasePressure: [0.04, 0.01, -30, 40],
  boostPressure: [0.4, 0.1, 0, 400],
  boostPressureTarget: [0, 0.1, 0, 400],
  wastegateDuty: [0.1, 0.1, 0, 100],
  wastegateTarget: [0, 0.1, 0, 100],
  wastegatePosition: [0.3, 0.1, 0, 100],
  barometricPressure: [0, 1, 0, 255],
  airMassFlow: [0.08, 0.01, 0, 1200],
  intakeAirTemperature: [0.05, 1, -40, 215],
  chargeAirTemperature: [0.1, 1, -40, 215],
  ambientTemperature: [0, 0.5, -40, 215],
  coolantTemperature: [0.05, 1, -40, 215],
  engineOilTemperature: [0.05, 1, -40, 215],
  transmissionOilTemperature: [0.05, 0.1, -40, 215],
  clutchOilTemperature: [0.1, 0.1, -40, 215],
  brakePressure: [0.03, 0.1, 0, 250],
  lambdaTarget: [0, 0.001, 0, 2],
  fuelSystemStatus: [0, 0, 0, 16],
  fuelRate: [0.02, 0.05, 0, 3276],
  fuelRailPressure: [25, 10, 0, 655350],
  fuelRailPressureTarget: [0, 10, 0, 655350],
  fuelFeedPressure: [2, 3, 0, 1500],
  fuelFeedPressureTarget: [0, 3, 0, 1500],
  injectionTime: [0.006, 0.004, 0, 60],
  purgeDuty: [0, 100 / 255, 0, 100],
  fuelTankPressure: [0.02, 0.01, -10, 20],
  knockLearned: [0, 0.1, -64, 64],
  octaneLearning: [0, 0.5, -100, 100],
  ethanolContent: [0.2, 100 / 255, 0, 100],
  ignitionAdvance: [0.1, 0.5, -64, 63.5],
  idleSpeedTarget: [0, 1, 0, 8000],
  'injectorCorrection.*': [0.15, 0.1, -100, 100],
  'oxygenSensorVoltage.*': [0.004, 0.005, 0, 1.275],
  particulateFilterPressureDrop: [0.03, 0.01, -10, 100],
  particulateFilterTemperature: [0.5, 0.1, -40, 1200],
  'catalystTemperature.*': [0.5, 0.1, -40, 6513.5],
  'exhaustGasTemperature.*': [1.5, 1, -50, 1400],
  'engineRoughness.*': [0, 0.01, -1000, 1000],
  engineTorque: [0.8, 0.5, -500, 2000],
  engineTorqueTarget: [0, 0.5, -500, 2000],
  coolantPumpDuty: [0, 0.5, 0, 100],
  engineOilPressure: [0.015, 0.01, 0, 12],
  systemVoltage: [0.015, 0.01, 0, 65],
  engineRunTime: [0, 1, 0, 65535],
  longitudinalAcceleration: [0.08, 0.01, -40, 40],
  lateralAcceleration: [0.08, 0.01, -40, 40],
  steeringAngle: [0.1, 0.1, -900, 900],
  outputShaftSpeed: [2, 0.5, 0, 16000],
  inputShaftSpeed: [3, 0.5, 0, 16000],
  clutchSlip: [3, 1, -9000, 9000],
  converterSlip: [3, 1, -9000, 9000],
  couplingDuty: [0, 0.5, 0, 100],
  transmissionOilPressure: [0.05, 0.05, 0, 60],
  transmissionOilPressureTarget: [0, 0.05, 0, 60],
  yawRate: [0.1, 0.05, -200, 200],
  gpsSpeed: [0.1, 0.01, 0, 500],
  altitude: [0.4, 0.1, -500, 9000],
  odometer: [0, 1, 0, 5e6],
  'intakeCamAngle.bank*': [0.3, 0.5, -180, 180],
  'intakeCamTarget.bank*': [0, 0.5, -180, 180],
  'lambda.bank*': [0.002, 0.001, 0, 1.99997],
  'fuelTrimShort.bank*': [0, 100 / 128, -100, 99.22],
  'fuelTrimLong.bank*': [0, 100 / 128, -100, 99.22],
  'knockRetard*': [0, 0.1, -64, 64],
  'wheelSpeed.*': [0.04, 0.01, 0, 500],
  'inputShaftSpeed.*': [2, 0.5, 0, 16000],
  'clutchTouchPoint.*': [0, 0.05, 0, 60],
  'clutchAdaptation.*': [0, 0.1, -200, 200],
  'clutchTorque.*': [1, 1, -3000, 3000],
};
const CODES = new Set([
  'gear',
  'gearTarget',
  'selector',
  'brakeSwitch',
  'coolantLevelWarning',
  'clutchSwitch',
  'fuelSystemStatus',
  'converterClutchState',
  'shiftActive',
  'fuelCut',
  'startStopActive',
  'ignitionSwitch',
  'starterActive',
  'cylinderDeactivation',
]);

/** Sensor defaults of a channel id. */
export function sensorOf(id: string): Sensor {
  const exact = DEFAULT_SENSORS[id];
  if (exact) return exact;
  for (const key of Object.keys(DEFAULT_SENSORS)) {
    if (key.endsWith('*') && id.startsWith(key.slice(0, -1))) return DEFAULT_SENSORS[key]!;
  }
  return [0, 0, Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY];
}

/** Samples a drive as a logger would. Rows = rate x duration; a channel that the car does not have is an error. */
export function record(sim: Simulation, spec: RecordSpec): Recorded {
  const random = new Random(spec.seed, 11);
  const from = spec.from ?? 0;
  const end = Math.min(spec.to ?? Number.POSITIVE_INFINITY, (sim.samples - 1) / sim.rate);
  if (!(end > from))
    throw new Error(
      `recording from ${from} s to ${end} s: expected a stretch inside the drive of ${sim.truth.duration} s`,
    );
  const all = Math.floor((end - from) * spec.rate) + 1;
  const times: number[] = [];
  for (let i = 0; i < all; i++) {
    if (spec.lostRows && i > 0 && random.chance(spec.lostRows)) continue;
    const shift = spec.jitter ? Math.max(-0.4, Math.min(0.4, spec.jitter * random.normal())) / spec.rate : 0;
    times.push(from + i / spec.rate + (i > 0 ? shift : 0));
  }
  const time = Float64Array.from(times);
  const rows = time.length;
  const columns = spec.channels.map((c): RecordedColumn => {
    const setting: ChannelSetting = typeof c === 'string' ? { id: c } : c;
    const signal = sim.signals.get(setting.id);
    if (!signal) throw new Error(`channel '${setting.id}': this car has ${[...sim.signals.keys()].join(', ')}`);
    const [dNoise, dQuantum, dMin, dMax] = sensorOf(setting.id);
    const noise = setting.noise ?? dNoise;
    const quantum = setting.quantum ?? dQuantum;
    const minimum = setting.minimum ?? dMin;
    const maximum = setting.maximum ?? dMax;
    const scale = setting.scale ?? 1;
    const offset = setting.offset ?? 0;
    const lag = setting.lag ?? 0;
    const period = 1 / (setting.refresh ?? spec.rate);
    const code = CODES.has(setting.id) || /^(misfire|preIgnition)Count/.test(setting.id);
    const phase = setting.refresh === undefined ? 0 : random.next() * period;
    const values = new Float64Array(rows);
    const fresh = new Uint8Array(rows);
    let lastSlot = Number.NaN;
    let held = Number.NaN;
    for (let i = 0; i < rows; i++) {
      const t = time[i]!;
      const slot = setting.refresh === undefined ? i : Math.floor((t - from + phase) / period + 1e-9);
      if (slot !== lastSlot) {
        lastSlot = slot;
        fresh[i] = 1;
        const x = (t - lag) * sim.rate;
        const k = Math.max(0, Math.min(sim.samples - 1, Math.floor(x)));
        let v = signal[k]!;
        if (!code && k + 1 < sim.samples && x > k) v += (signal[k + 1]! - v) * (x - k);
        if (!code) {
          // A speed sensor at rest gives nothing, hence no noise either.
          const silent = v < 0.02 && v > -0.02 && setting.id.includes('Speed');
          v = silent ? 0 : v * scale + offset + (noise > 0 ? noise * random.normal() : 0);
          if (quantum > 0) v = Math.round(v / quantum) * quantum;
          v = Math.min(maximum, Math.max(minimum, v));
        }
        held = v;
      }
      values[i] = held;
    }
    return { id: setting.id, values, fresh, quantum: code ? 1 : quantum };
  });
  for (const d of spec.disturbances ?? []) disturb(columns, time, d, random);
  let recorded: Recorded = { time, rate: spec.rate, columns };
  for (const change of spec.tampered ?? []) recorded = change(recorded, random);
  return recorded;
}

function disturb(columns: readonly RecordedColumn[], time: Float64Array, d: Disturbance, random: Random): void {
  for (const column of columns) {
    if (d.channels.length > 0 && !d.channels.includes(column.id)) continue;
    let held = Number.NaN;
    for (let i = 0; i < time.length; i++) {
      const t = time[i]!;
      if (t < d.from || t >= d.to) continue;
      if (Number.isNaN(held)) held = column.values[i]!;
      if (d.kind === 'empty') column.values[i] = Number.NaN;
      else if (d.kind === 'hold') column.values[i] = held;
      else if (d.kind === 'value') column.values[i] = d.value ?? Number.NaN;
      else if (random.chance(d.share ?? 0.002)) column.values[i] = d.value ?? Number.NaN;
    }
  }
}
