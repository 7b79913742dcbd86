import type { CarSpec } from './car.js';
import type { ChannelSetting } from './record.js';

/** Channels of a full recording of that car: all control units, each value fresh at every row except slow ones. */
export function fullSet(car: CarSpec): ChannelSetting[] {
  const slow = 1;
  const list: ChannelSetting[] = [
    'engineSpeed',
    'vehicleSpeed',
    'pedalPosition',
    'throttlePosition',
    'engineLoad',
    'manifoldPressure',
    'crankcasePressure',
    'boostPressure',
    'boostPressureTarget',
    'airMassFlow',
  ].map((id) => ({ id }));
  list.push({ id: 'barometricPressure', refresh: slow });
  for (const id of ['intakeAirTemperature', 'ambientTemperature', 'coolantTemperature', 'engineOilTemperature'])
    list.push({ id, refresh: slow });
  list.push({ id: 'transmissionOilTemperature' }, { id: 'gear' }, { id: 'selector' }, { id: 'brakeSwitch' });
  for (let k = 1; k <= car.engine.banks; k++) list.push({ id: `lambda.bank${k}` });
  list.push({ id: 'lambdaTarget' }, { id: 'fuelSystemStatus' });
  for (let k = 1; k <= car.engine.banks; k++)
    list.push({ id: `fuelTrimShort.bank${k}` }, { id: `fuelTrimLong.bank${k}` });
  list.push({ id: 'ignitionAdvance' });
  for (let c = 1; c <= car.engine.cylinders; c++) list.push({ id: `knockRetard.cylinder${c}` });
  for (let k = 1; k <= car.engine.banks; k++)
    list.push({ id: `intakeCamAngle.bank${k}` }, { id: `intakeCamTarget.bank${k}` });
  list.push(
    { id: 'engineTorque' },
    { id: 'engineTorqueTarget' },
    { id: 'engineOilPressure' },
    { id: 'fuelRailPressure' },
    { id: 'systemVoltage' },
  );
  for (const w of ['frontLeft', 'frontRight', 'rearLeft', 'rearRight']) list.push({ id: `wheelSpeed.${w}` });
  list.push({ id: 'longitudinalAcceleration' }, { id: 'yawRate' }, { id: 'steeringAngle' });
  list.push(...drivelineSet(car));
  return list;
}

/** What a plain service 01 reader gets: few values a second, bytes, 1 km/h. */
export function serviceSet(car: CarSpec, rate: number): ChannelSetting[] {
  const list: ChannelSetting[] = [
    { id: 'engineSpeed', refresh: rate },
    { id: 'vehicleSpeed', refresh: rate, quantum: 1 },
    { id: 'pedalPosition', refresh: rate },
    { id: 'throttlePosition', refresh: rate },
    { id: 'engineLoad', refresh: rate },
    { id: 'manifoldPressure', refresh: rate, quantum: 1, maximum: 255 },
    { id: 'airMassFlow', refresh: rate, maximum: 655.35 },
    { id: 'coolantTemperature', refresh: 0.5 },
    { id: 'intakeAirTemperature', refresh: 0.5 },
    { id: 'engineOilTemperature', refresh: 0.5 },
    { id: 'ignitionAdvance', refresh: rate },
    { id: 'fuelSystemStatus', refresh: 1 },
    { id: 'systemVoltage', refresh: 1 },
    { id: 'barometricPressure', refresh: 0.2 },
  ];
  for (let k = 1; k <= car.engine.banks; k++)
    list.push({ id: `fuelTrimShort.bank${k}`, refresh: rate }, { id: `fuelTrimLong.bank${k}`, refresh: 1 });
  list.push({ id: 'lambdaTarget', refresh: rate });
  return list;
}

/** Shafts, clutches, coupling and line pressure, as far as the car has them. */
function drivelineSet(car: CarSpec): ChannelSetting[] {
  const { kind } = car.transmission;
  const list: ChannelSetting[] = [];
  if (kind === 'dual-clutch')
    for (const k of [1, 2]) list.push({ id: `inputShaftSpeed.clutch${k}` }, { id: `clutchTouchPoint.clutch${k}` });
  if (kind === 'converter') list.push({ id: 'inputShaftSpeed' }, { id: 'converterClutchState' });
  if (kind !== 'manual')
    for (const id of ['outputShaftSpeed', 'transmissionOilPressure', 'transmissionOilPressureTarget'])
      list.push({ id });
  if (car.driveline.driven === 'all') list.push({ id: 'couplingDuty' });
  return list;
}

/** What an engine control unit knows of its fuel supply and injection. */
export function fuelSet(): string[] {
  return [
    'fuelRailPressureTarget',
    'fuelFeedPressure',
    'fuelFeedPressureTarget',
    'injectionTime',
    'purgeDuty',
    'fuelTankPressure',
    'octaneLearning',
  ];
}

/** What an engine control unit knows of the cylinders, and of its idle. */
export function cylinderSet(car: CarSpec): string[] {
  const ids = ['idleSpeedTarget', 'starterActive'];
  for (const stem of ['misfireCount', 'engineRoughness', 'injectorCorrection', 'exhaustGasTemperature'])
    for (let c = 1; c <= car.engine.cylinders; c++) ids.push(`${stem}.cylinder${c}`);
  return ids;
}

/** Channels (stems) that some loggers leave out and a thorough one never does. */
export const OFTEN_LEFT_OUT: readonly string[] = [
  'barometricPressure',
  'ambientTemperature',
  'fuelRailPressure',
  'engineOilPressure',
  'crankcasePressure',
  'engineTorqueTarget',
  'intakeCamAngle',
  'boostPressure',
  'boostPressureTarget',
  'throttlePosition',
  'wheelSpeed',
  'longitudinalAcceleration',
  'yawRate',
];
