import { describe, expect, it } from 'vitest';
import { load } from '../../src/engine/load.js';
import { cellNumber, decimalOf } from '../../src/ingest/cell-number.js';

const utf8 = new TextEncoder();

async function read(text: string) {
  const { report, recording } = await load({ name: 'x', source: utf8.encode(text) });
  const value = (id: string): number | undefined => recording?.channels.get(id)?.values[0];
  return { report, readOut: recording?.readOut, value };
}

describe('layouts of stored values', () => {
  it.each([
    [
      'head, comma',
      'name,value,unit\nLaunch count,61,\nMaximum transmission oil temperature,138.5,degC\nOdometer,26100,km\n',
    ],
    [
      'no head, semicolon, decimal comma',
      'Launch count;61;\nMaximum transmission oil temperature;138,5;°C\nOdometer;26.100;km\n',
    ],
    ['plain lines', 'Launch count: 61\nMaximum transmission oil temperature: 138.5 °C\nOdometer = 26100 km\n'],
    [
      'other order',
      'Unit\tValue\tParameter\n\t61\tLaunch count\nF\t281.3\tMaximum transmission oil temperature\nkm\t26 100\tOdometer\n',
    ],
    [
      'unit in the name',
      'name,value\nLaunch count,61\nMaximum transmission oil temperature [°C],138.5\nOdometer (km),26100\n',
    ],
  ])('%s', async (_, text) => {
    const { report, value } = await read(text);
    expect(report.kind).toBe('stored-values');
    expect(value('launchCount')).toBe(61);
    expect(value('transmissionOilTemperatureMaximum')).toBeCloseTo(138.5, 6);
    expect(value('odometer')).toBe(26100);
  });

  it('miles are converted (1.609344 km, exact)', async () => {
    const { value } = await read('name,value,unit\nOdometer,10000,miles\nLaunch count,1,\n');
    expect(value('odometer')).toBeCloseTo(16093.44, 6);
  });

  it('keeps odometers of several control units apart, and those of past events', async () => {
    const { readOut, value } = await read(
      'control unit,name,value,unit\nTransmission,Odometer,41200,km\n,Odometer (instrument cluster),26100,km\n,Engine control unit odometer,41198,km\n,Odometer at last launch,41150,km\n',
    );
    expect(readOut?.odometers.map((each) => [each.value, each.past])).toEqual([
      [41200, false],
      [26100, false],
      [41198, false],
      [41150, true],
    ]);
    expect(value('odometer')).toBe(26100);
  });

  it('reads monitor results with limits in columns, and spread over rows', async () => {
    const { readOut } = await read(
      'name,value,unit,min,max\nCatalyst bank 1,0.62,ratio,0.6,3\nTID 83 value,5,,,\nTID 83 min,2,,,\nTID 83 max,9,,,\nPurge test,0,count,0,0\nLaunch count,3,,,\n',
    );
    expect(
      readOut?.monitorResults.map(({ name, value, low, high, notRun }) => [name, value, low, high, notRun]),
    ).toEqual([
      ['Catalyst bank 1', 0.62, 0.6, 3, false],
      ['Purge test', 0, 0, 0, true],
      ['TID 83', 5, 2, 9, false],
    ]);
  });

  it('reads readiness, calibration and verification number', async () => {
    const { readOut } = await read(
      'name,value\nMonitor status,00 07 65 65\nCalibration ID engine,AB-12\nCVN engine,5F3A9C21\nOdometer [km],5\n',
    );
    expect(readOut?.readiness?.codeCount).toBe(0);
    expect(readOut?.calibrations.map(({ kind, text }) => [kind, text])).toEqual([
      ['identification', 'AB-12'],
      ['verification', '5F3A9C21'],
    ]);
  });

  it('keeps nothing that names the car or a person', async () => {
    const secret = 'WXX12345678901234';
    const { report, readOut } = await read(
      `name,value\nVIN,${secret}\nOwner,Somebody Secret\nLaunch count,2\nVehicle identification number,${secret}\n`,
    );
    const text = JSON.stringify([report, readOut]);
    expect(text).not.toContain(secret);
    expect(text).not.toContain('Somebody');
    expect(report.problems.filter(({ code }) => code === 'private-left-out').map(({ line }) => line)).toEqual([
      2, 3, 5,
    ]);
  });

  it('counters at the end of their range are full or not supported', async () => {
    const { value, report } = await read(
      'name,value,unit\nDistance since codes cleared,65535,km\nWarm-ups since codes cleared,255,\nLaunch count,0,\n',
    );
    expect(value('distanceSinceClear')).toBeUndefined();
    expect(value('warmUpsSinceClear')).toBeUndefined();
    expect(report.problems.map(({ code, line }) => [code, line])).toEqual([
      ['sentinels-removed', 2],
      ['sentinels-removed', 3],
    ]);
  });

  it('bad rows are told with their line, the rest is read', async () => {
    const { report, value } = await read(
      'name,value,unit\nLaunch count,many,\nOdometer,42000,furlongs\n,3,\nIgnition cycles,900,\nSomething else,1,\n',
    );
    expect(value('ignitionCycles')).toBe(900);
    expect(report.problems.map(({ code, line }) => [code, line])).toEqual([
      ['value-row-unreadable', 4],
      ['text-in-number', 2],
      ['unit-unknown', 3],
    ]);
    expect(report.unrecognised).toEqual(['Something else']);
  });

  it('a file of which nothing is known is unusable', async () => {
    const { report } = await read('name,value\nFoo,1\nBar,2\n');
    expect(report).toMatchObject({ kind: 'stored-values', error: { code: 'no-channel' } });
  });
});

describe('numbers of a list', () => {
  it.each([
    ['26.100', ',', 26100],
    ['26.100', '.', 26.1],
    ['26,100', '.', 26100],
    ['1.234,5', ',', 1234.5],
    ['1,234.5', undefined, 1234.5],
    ['41 198', undefined, 41198],
    ['41 198 km', undefined, 41198],
    ['138,5 °C', undefined, 138.5],
    ['-40', undefined, -40],
  ] as const)('%s with decimal %s', (text, decimal, value) => expect(cellNumber(text, decimal).value).toBe(value));

  it('a comma before three digits is doubtful when nothing else tells', () => {
    expect(cellNumber('26,100', undefined)).toMatchObject({ value: Number.NaN, doubtful: true });
    expect(decimalOf(['26,100', '3'])).toBeUndefined();
    expect(decimalOf(['26.100', '138,5'])).toBe(',');
  });
});
