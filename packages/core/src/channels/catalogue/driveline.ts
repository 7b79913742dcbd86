import { type ChannelDefinition, definer, TEMPERATURE_ENDS } from '../definition.js';

const c = definer('driveline');
const AXLE = { positions: ['axle'] } as const;

/** Coupling to the second axle, differentials, shafts. */
export const DRIVELINE: readonly ChannelDefinition[] = [
  c(
    'couplingTorque',
    'N.m',
    [-500, 5000],
    'coupling torque | all wheel drive torque | front drive torque | transfer torque | transfer case torque | transfer clutch torque | transfer case clutch torque | all wheel drive coupling torque | second axle torque',
    'Torque through the coupling to the second axle',
    { rate: 20000 },
  ),
  c(
    'couplingTorqueTarget',
    'N.m',
    [-500, 5000],
    'coupling torque target | all wheel drive torque target | front drive torque target | transfer torque target | transfer case torque target | transfer clutch torque target | all wheel drive coupling torque target',
    'Coupling torque wanted',
    { rate: 50000 },
  ),
  c(
    'couplingDuty',
    '%',
    [0, 100],
    'coupling duty (cycle) | all wheel drive duty | coupling target | all wheel drive target | front drive target | all wheel drive coupling duty (cycle) | all wheel drive coupling target | transfer clutch duty | transfer case duty | front drive command percent | front drive duty | coupling lock | all wheel drive lock | coupling engagement | transfer case target | front axle clutch target | front axle clutch duty | front clutch target | ?front drive torque target | ?all wheel drive torque target | ?coupling torque target | ?coupling torque',
    'Command to the coupling',
    { kind: 'commanded', rate: 5000 },
  ),
  c(
    'couplingCurrent',
    'A',
    [0, 30],
    'coupling current | all wheel drive current | transfer clutch current | transfer case current | all wheel drive coupling current',
    'Current of the coupling actuator',
  ),
  c(
    'couplingPressure',
    'bar',
    [-0.5, 100],
    'coupling pressure | all wheel drive pressure | transfer clutch pressure | all wheel drive coupling pressure',
    'Pressure of the coupling',
    { gauge: true, rate: 1000 },
  ),
  c(
    'couplingTemperature',
    'degC',
    [-50, 300],
    'coupling temp | all wheel drive temp | transfer case temp | transfer clutch temp | all wheel drive coupling temp | transfer case oil temp | coupling oil temp',
    'Temperature of the coupling',
    { sentinels: TEMPERATURE_ENDS },
  ),
  c(
    'differentialLock',
    '%',
    [0, 100],
    'differential lock (percent) (duty) | differential lock target | locking differential (duty)',
    'Lock of a differential',
    { ...AXLE, kind: 'commanded' },
  ),
  c(
    'differentialTemperature',
    'degC',
    [-50, 215],
    'differential temp | differential oil temp | final drive temp | final drive oil temp | axle oil temp | differential fluid temp',
    'Oil temperature of a differential',
    { ...AXLE, rate: 5, sentinels: TEMPERATURE_ENDS },
  ),
  c(
    'axleSpeed',
    'km/h',
    [-50, 450],
    'axle speed | wheel speed axle | axle wheel speed',
    'Mean wheel speed of an axle',
    { ...AXLE, rate: 200 },
  ),
  c(
    'axleTorque',
    'N.m',
    [-10000, 15000],
    'axle torque | torque driven axle | drive torque axle | axle drive torque',
    'Torque at an axle',
    { ...AXLE, rate: 50000 },
  ),
  c(
    'wheelTorque',
    'N.m',
    [-10000, 15000],
    'wheel torque | torque wheels | drive torque wheel | torque wheel | wheel drive torque',
    'Torque at the wheels',
    { positions: ['wheel'], rate: 50000 },
  ),
  c(
    'propshaftSpeed',
    'rpm',
    [-1000, 12000],
    'propshaft speed | propeller shaft speed | cardan shaft speed | driveshaft speed',
    'Propeller shaft speed',
    { rate: 20000 },
  ),
];
