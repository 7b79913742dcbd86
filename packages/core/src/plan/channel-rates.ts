/**
 * Hz at which a channel should be logged to answer every question that reads it. From what the rules ask for; common
 * practice, no source. Anything not named is slow: temperatures, voltages at rest, learned values.
 */
const RATES: readonly (readonly [number, readonly string[]])[] = [
  [40, ['inputShaftSpeed', 'outputShaftSpeed', 'converterSlip']],
  [30, ['wheelSpeed']],
  [20, ['engineSpeed']],
  [
    10,
    [
      'vehicleSpeed',
      'axleSpeed',
      'propshaftSpeed',
      'pedalPosition',
      'pedalPositionRelative',
      'throttlePosition',
      'throttleTarget',
      'manifoldPressure',
      'manifoldPressureTarget',
      'boostPressure',
      'boostPressureTarget',
      'compressorOutletPressure',
      'wastegateDuty',
      'wastegatePosition',
      'wastegateTarget',
      'turboSpeed',
      'airMassFlow',
      'airMassPerStroke',
      'engineLoad',
      'engineLoadAbsolute',
      'engineTorque',
      'engineTorqueIndicated',
      'engineTorqueTarget',
      'torqueInterventionTarget',
      'ignitionAdvance',
      'knockRetard',
      'knockRetardMean',
      'preIgnitionCount',
      'lambda',
      'lambdaTarget',
      'oxygenSensorVoltage',
      'injectionTime',
      'injectorDuty',
      'fuelRailPressure',
      'fuelRailPressureTarget',
      'fuelFeedPressure',
      'engineOilPressure',
      'systemVoltage',
      'couplingDuty',
      'couplingTorque',
      'couplingTorqueTarget',
      'lateralAcceleration',
      'longitudinalAcceleration',
      'yawRate',
      'steeringAngle',
      'gear',
      'selector',
      'shiftActive',
      'clutchSlip',
      'clutchTorque',
      'particulateFilterPressureDrop',
    ],
  ],
  [
    5,
    [
      'intakeCamAngle',
      'exhaustCamAngle',
      'intakeCamTarget',
      'exhaustCamTarget',
      'brakePressure',
      'brakeSwitch',
      'transmissionOilPressure',
      'transmissionOilPressureTarget',
      'converterClutchState',
      'engineRoughness',
      'chargeAirTemperature',
      'purgeDuty',
    ],
  ],
  [2, ['fuelTrimShort', 'fuelTrimLong', 'misfireCount', 'exhaustGasTemperature', 'transmissionOilTemperature']],
];

const BY_ID = new Map(RATES.flatMap(([hz, ids]) => ids.map((id) => [id, hz] as const)));

/** Hz for a channel id or family. */
export function loggingRate(id: string): number {
  return BY_ID.get(id.split('.')[0]!) ?? 1;
}

/** Channels with a rate of their own. */
export function ratedChannels(): string[] {
  return [...BY_ID.keys()];
}
