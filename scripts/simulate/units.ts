/** Units in which a column may be written: own spellings and own conversion, apart from the library's table on purpose. */
export interface WrittenUnit {
  readonly id: string;
  readonly spellings: readonly string[];
  /** written = value x factor + offset, or factor / value for `inverse`. */
  readonly factor: number;
  readonly offset?: number;
  readonly inverse?: boolean;
}
const u = (id: string, spellings: readonly string[], factor = 1, offset = 0): WrittenUnit => ({
  id,
  spellings,
  factor,
  offset,
});
const PSI = 6.894757293168361; // kPa, from 0.45359237 kg, 9.80665 m/s2, 0.0254 m

/** Unit families; the first unit is the one the simulator computes in. */
const FAMILIES = {
  rotation: [u('rpm', ['rpm', 'RPM', '1/min', 'r/min', 'rev/min'])],
  speed: [u('km/h', ['km/h', 'kph', 'kmh']), u('mph', ['mph'], 1 / 1.609344), u('m/s', ['m/s'], 1 / 3.6)],
  temperature: [
    u('degC', ['°C', 'degC', 'C', 'deg C']),
    u('degF', ['°F', 'degF', 'F'], 1.8, 32),
    u('K', ['K', 'Kelvin'], 1, 273.15),
  ],
  pressure: [
    u('kPa', ['kPa', 'kpa']),
    u('bar', ['bar'], 0.01),
    u('psi', ['psi'], 1 / PSI),
    u('mbar', ['mbar'], 10),
    u('hPa', ['hPa'], 10),
  ],
  rail: [u('kPa', ['kPa']), u('bar', ['bar'], 0.01), u('MPa', ['MPa'], 0.001), u('psi', ['psi'], 1 / PSI)],
  oil: [u('bar', ['bar']), u('kPa', ['kPa'], 100), u('psi', ['psi'], 100 / PSI)],
  flow: [
    u('g/s', ['g/s', 'g/sec', 'gm/s']),
    u('kg/h', ['kg/h', 'kg/hr'], 3.6),
    u('lb/min', ['lb/min', 'lbs/min'], 60 / 453.59237),
  ],
  torque: [u('N.m', ['Nm', 'N.m', 'N·m', 'N-m']), u('lb-ft', ['lb-ft', 'ft-lb', 'lbft'], 1 / 1.3558179483314)],
  mixture: [
    u('lambda', ['lambda', 'Lambda', '']),
    u('AFR', ['AFR', 'afr'], 14.7),
    { id: 'phi', spellings: ['phi'], factor: 1, inverse: true },
  ],
  share: [u('%', ['%', 'percent', 'pct']), u('fraction', ['fraction'], 0.01)],
  trim: [u('%', ['%', 'percent', 'pct']), u('factor', ['factor'], 0.01, 1)],
  angle: [u('deg', ['°', 'deg', 'degrees'])],
  yaw: [u('deg/s', ['°/s', 'deg/s'])],
  acceleration: [u('m/s2', ['m/s²', 'm/s2', 'm/s^2']), u('g', ['g', 'G'], 1 / 9.80665)],
  voltage: [u('V', ['V', 'volts', 'Volt']), u('mV', ['mV'], 1000)],
  length: [u('m', ['m'])],
  way: [u('km', ['km'])],
  duration: [u('s', ['s', 'sec'])],
  fuel: [u('L/h', ['L/h', 'l/h'])],
  injection: [u('ms', ['ms', 'msec']), u('us', ['µs', 'us'], 1000)],
  percent: [u('%', ['%', 'percent'])],
  tank: [u('kPa', ['kPa']), u('mbar', ['mbar', 'hPa'], 10)],
  code: [u('1', [''])],
  plain: [u('1', [''])],
} as const satisfies Record<string, readonly WrittenUnit[]>;
export type Family = keyof typeof FAMILIES;

const BY_STEM: Readonly<Record<string, Family>> = {
  engineSpeed: 'rotation',
  outputShaftSpeed: 'rotation',
  inputShaftSpeed: 'rotation',
  clutchSlip: 'rotation',
  converterSlip: 'rotation',
  vehicleSpeed: 'speed',
  wheelSpeed: 'speed',
  gpsSpeed: 'speed',
  pedalPosition: 'share',
  throttlePosition: 'share',
  engineLoad: 'share',
  engineLoadAbsolute: 'share',
  wastegateDuty: 'share',
  wastegateTarget: 'share',
  wastegatePosition: 'share',
  clutchTouchPoint: 'oil',
  clutchAdaptation: 'share',
  transmissionOilPressure: 'oil',
  transmissionOilPressureTarget: 'oil',
  yawRate: 'yaw',
  shiftActive: 'code',
  couplingDuty: 'share',
  intakeCamAngle: 'angle',
  intakeCamTarget: 'angle',
  coolantPressure: 'pressure',
  coolantLevelWarning: 'code',
  manifoldPressure: 'pressure',
  crankcasePressure: 'pressure',
  boostPressure: 'pressure',
  boostPressureTarget: 'pressure',
  barometricPressure: 'pressure',
  airMassFlow: 'flow',
  fuelRate: 'fuel',
  fuelRailPressure: 'rail',
  fuelRailPressureTarget: 'rail',
  fuelFeedPressure: 'pressure',
  fuelFeedPressureTarget: 'pressure',
  injectionTime: 'injection',
  purgeDuty: 'share',
  octaneLearning: 'percent',
  ethanolContent: 'percent',
  fuelTankPressure: 'tank',
  fuelCut: 'code',
  engineOilPressure: 'oil',
  brakePressure: 'oil',
  intakeAirTemperature: 'temperature',
  chargeAirTemperature: 'temperature',
  ambientTemperature: 'temperature',
  coolantTemperature: 'temperature',
  engineOilTemperature: 'temperature',
  transmissionOilTemperature: 'temperature',
  clutchOilTemperature: 'temperature',
  lambda: 'mixture',
  lambdaTarget: 'mixture',
  fuelTrimShort: 'trim',
  fuelTrimLong: 'trim',
  ignitionAdvance: 'angle',
  knockRetard: 'angle',
  knockLearned: 'angle',
  steeringAngle: 'angle',
  engineTorque: 'torque',
  engineTorqueTarget: 'torque',
  clutchTorque: 'torque',
  longitudinalAcceleration: 'acceleration',
  lateralAcceleration: 'acceleration',
  systemVoltage: 'voltage',
  altitude: 'length',
  odometer: 'way',
  engineRunTime: 'duration',
  gear: 'code',
  gearTarget: 'code',
  selector: 'code',
  brakeSwitch: 'code',
  idleSpeedTarget: 'rotation',
  starterActive: 'code',
  misfireCount: 'code',
  engineRoughness: 'plain',
  injectorCorrection: 'share',
  exhaustGasTemperature: 'temperature',
  exhaustGasTemperatureModelled: 'temperature',
  oxygenSensorVoltage: 'voltage',
  catalystTemperature: 'temperature',
  particulateFilterPressureDrop: 'pressure',
  particulateFilterTemperature: 'temperature',
  preIgnitionCount: 'code',
  cylinderDeactivation: 'code',
  coolantPumpDuty: 'share',
  ignitionSwitch: 'code',
  startStopActive: 'code',
  clutchSwitch: 'code',
  fuelSystemStatus: 'code',
  converterClutchState: 'code',
};

/** Family of a channel id (its stem before the dot). */
export function familyOf(id: string): Family {
  const stem = id.split('.')[0]!;
  const family = BY_STEM[stem];
  if (!family) throw new Error(`channel '${id}': no unit family in units.ts`);
  return family;
}
/** Units a channel may be written in, the computed one first. */
export function unitsOf(id: string): readonly WrittenUnit[] {
  return FAMILIES[familyOf(id)];
}
/** The number that a column in that unit shows for a value in the computed unit. */
export function written(value: number, unit: WrittenUnit): number {
  return unit.inverse ? 1 / value : value * unit.factor + (unit.offset ?? 0);
}
