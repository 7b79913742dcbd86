import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  CHANNELS,
  channelDocs,
  findChannel,
  stateLabel,
  stateValue,
  suggestChannel,
} from '../../src/channels/index.js';
import { unitById } from '../../src/units/index.js';

describe('the catalogue', () => {
  it('has more than 100 channels with unique ids, in every system', () => {
    expect(CHANNELS.length).toBeGreaterThan(250);
    expect(new Set(CHANNELS.map((channel) => channel.id)).size).toBe(CHANNELS.length);
    expect(new Set(CHANNELS.map((channel) => channel.system)).size).toBe(13);
    expect(Object.isFrozen(CHANNELS) && CHANNELS.every((channel) => Object.isFrozen(channel))).toBe(true);
  });

  it('has a sound definition for each', () => {
    for (const channel of CHANNELS) {
      const unit = unitById(channel.unit);
      expect(unit, channel.id).toBeDefined();
      if (channel.quantity !== 'mixture') expect(unit!.quantity, channel.id).toBe(channel.quantity);
      expect(channel.range[0], channel.id).toBeLessThan(channel.range[1]);
      expect(channel.id).toMatch(/^[a-z][A-Za-z]*$/);
      expect(channel.aliases.length + channel.unitAliases.length, channel.id).toBeGreaterThan(0);
      expect(channel.about.length).toBeGreaterThan(3);
      if (channel.quantity === 'pressure' && channel.kind === 'measured')
        expect(channel.gauge, channel.id).toBeDefined();
      if (channel.numberMeans !== undefined) expect(channel.positions, channel.id).toContain(channel.numberMeans);
    }
  });

  it('has the ids that the contract fixes', () => {
    const fixed =
      'engineSpeed vehicleSpeed pedalPosition throttlePosition engineLoad manifoldPressure barometricPressure airMassFlow intakeAirTemperature coolantTemperature engineOilTemperature transmissionOilTemperature gear selector lambda lambda.bank1 lambdaTarget fuelTrimShort.bank1 fuelTrimLong.bank2 ignitionAdvance knockRetard knockRetard.cylinder3 wheelSpeed.frontLeft systemVoltage';
    for (const id of fixed.split(' ')) expect(findChannel(id), id).toBeDefined();
  });

  it('renders the table of channels', () => {
    const text = channelDocs();
    for (const channel of CHANNELS) expect(text).toContain(`| \`${channel.id}\` |`);
    expect(text).toBe(channelDocs());
  });
});

describe('findChannel and suggestChannel', () => {
  it('reads positions and refuses what the channel does not take', () => {
    expect(findChannel('oxygenSensorVoltage.bank1Sensor2')?.positions).toEqual({ bank: '1', sensor: '2' });
    expect(findChannel('wheelSpeed.rearRight')?.positions).toEqual({ wheel: 'rearRight' });
    expect(findChannel('axleSpeed.front')?.positions).toEqual({ axle: 'front' });
    for (const id of [
      'engineSpeed.bank1',
      'knockRetard.cylinder0',
      'knockRetard.cylinder17',
      'knockRetard.',
      'knockRetard.cylinder03',
      'wheelSpeed.top',
      '__proto__',
      'constructor',
      '',
      'KnockRetard',
      'oxygenSensorVoltage.sensor2Bank1',
    ]) {
      expect(findChannel(id), id).toBeUndefined();
    }
    fc.assert(fc.property(fc.string(), (text) => void findChannel(text)));
  });

  it('suggests what may have been meant', () => {
    expect(suggestChannel('coolantTemprature')[0]).toBe('coolantTemperature');
    expect(suggestChannel('knokRetard.cylinder3')[0]).toBe('knockRetard.cylinder3');
    expect(suggestChannel('enginespeed')[0]).toBe('engineSpeed');
    expect(suggestChannel('zzzzzzzz')).toEqual([]);
    expect(suggestChannel('')).toEqual([]);
  });
});

describe('stateValue', () => {
  it('reads gears', () => {
    const gears: Readonly<Record<string, number>> = {
      N: 0,
      P: 0,
      R: -1,
      '3rd': 3,
      D3: 3,
      M4: 4,
      '1': 1,
      'MANUAL-3': 3,
      'MANUAL-NEUTRAL': 0,
      'Gear 6': 6,
      first: 1,
      Neutral: 0,
      '8': 8,
      '2. Gang': 2,
    };
    for (const [text, gear] of Object.entries(gears)) expect(stateValue('gear', text), text).toBe(gear);
    for (const text of ['99', 'D', 'abc', '', '__proto__', '11'])
      expect(stateValue('gear', text), text).toBeUndefined();
    expect(stateValue('gearTarget', 'R')).toBe(-1);
    expect(stateLabel('gear', -1)).toBe('R');
    expect(stateLabel('gear', 4)).toBe('4');
  });

  it('reads selector, flags and fuel system status, and names the codes', () => {
    for (const label of ['P', 'R', 'N', 'D', 'S', 'M'])
      expect(stateLabel('selector', stateValue('selector', label)!)).toBe(label);
    expect(stateValue('selector', 'D4')).toBe(3);
    expect(stateValue('selector', 'x')).toBeUndefined();
    for (const text of ['ON', 'yes', 'TRUE', 'active', 'Closed', 'pressed'])
      expect(stateValue('brakeSwitch', text), text).toBe(1);
    for (const text of ['OFF', 'no', 'false', 'Inactive', 'open', 'released'])
      expect(stateValue('brakeSwitch', text), text).toBe(0);
    expect(stateValue('brakeSwitch', 'constructor')).toBeUndefined();
    expect(stateLabel('brakeSwitch', 1)).toBe('on');
    expect(stateValue('fuelSystemStatus', 'CL')).toBe(2);
    expect(stateValue('fuelSystemStatus', 'Closed loop')).toBe(2);
    expect(stateValue('fuelSystemStatus', 'OL-Drive')).toBe(4);
    expect(stateValue('fuelSystemStatus', 'OL')).toBe(1);
    expect(stateValue('fuelSystemStatus', 'Closed loop - fault')).toBe(16);
    expect(stateValue('fuelSystemStatus', 'open loop due to engine load')).toBe(4);
    expect(stateValue('converterClutchState', 'locked')).toBe(2);
    expect(stateLabel('selector', 99)).toBeUndefined();
    fc.assert(
      fc.property(fc.string(), fc.constantFrom(...CHANNELS.map((c) => c.id)), (text, id) => void stateValue(id, text)),
    );
  });
});
