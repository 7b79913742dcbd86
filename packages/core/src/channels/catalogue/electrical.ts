import { type ChannelDefinition, definer, TEMPERATURE_ENDS, wordEnd } from '../definition.js';

const c = definer('electrical');

/** Vehicle electrical system. */
export const ELECTRICAL: readonly ChannelDefinition[] = [
  c(
    'systemVoltage',
    'V',
    [0, 20],
    'system voltage | battery voltage | control module voltage | supply voltage | module voltage | battery positive voltage | vehicle voltage | control unit voltage | electrical system voltage | board voltage | ~voltage | ?battery | engine control module voltage | module supply voltage | power supply voltage | on board voltage | vehicle power voltage',
    'Voltage of the 12 V system',
    { rate: 500, resolution: 0.001, pid: '42', sentinels: wordEnd('V', 0.001) },
  ),
  c('batteryCurrent', 'A', [-2000, 500], 'battery current | ?battery', 'Current of the 12 V battery', {
    rate: 20000,
    sign: 'positive = charging',
  }),
  c(
    'batteryStateOfCharge',
    '%',
    [0, 100],
    'battery state charge | state charge (battery) | battery charge (level) (state) | ?battery',
    'State of charge',
  ),
  c('batteryTemperature', 'degC', [-50, 100], 'battery temp', 'Battery temperature', { sentinels: TEMPERATURE_ENDS }),
  c(
    'alternatorDuty',
    '%',
    [0, 100],
    'alternator duty (cycle) | alternator load | alternator field duty | alternator utilization | alternator load percent',
    'Load of the alternator',
    { kind: 'commanded' },
  ),
  c('alternatorVoltage', 'V', [0, 20], 'alternator voltage | alternator output voltage', 'Voltage at the alternator'),
  c(
    'alternatorVoltageTarget',
    'V',
    [0, 20],
    'alternator voltage target | alternator target | charging voltage target | alternator target voltage',
    'Charging voltage wanted',
  ),
  c(
    'alternatorCurrent',
    'A',
    [-10, 500],
    'alternator current | alternator output current',
    'Current of the alternator',
  ),
  c(
    'hybridBatteryVoltage',
    'V',
    [0, 1000],
    'hybrid battery voltage | high voltage battery voltage | traction battery voltage',
    'Voltage of the 48 V or high-voltage battery',
  ),
  c(
    'hybridBatteryStateOfCharge',
    '%',
    [0, 100],
    'hybrid battery state charge | high voltage battery state charge | hybrid battery (pack) (remaining) (life) | traction battery state charge',
    'State of charge of the hybrid battery',
    { resolution: 100 / 255 },
  ),
  c(
    'controlModuleTemperature',
    'degC',
    [-50, 180],
    'control module temp | engine control module temp | control unit temp | engine control unit temp',
    'Temperature inside the engine control unit',
    { sentinels: TEMPERATURE_ENDS },
  ),
  c(
    'ignitionSwitch',
    '1',
    [0, 1],
    'ignition switch | key on | ignition on | ignition key (state) | terminal 15 | ignition state | ignition status',
    'Ignition switched on',
    { kind: 'flag' },
  ),
];
