import { describe, expect, it } from 'vitest';
import { readTable } from '../../src/ingest/index.js';
import { shared, sharedBytes } from './shared.js';

async function table(path: string, options: object = {}) {
  const result = await readTable(sharedBytes(`data/${path}`), { name: path, ...options });
  if (!result.ok) throw new Error(`${result.fault.code}: ${result.fault.message}`);
  expect(result.kind).toBe('recording');
  return result.table;
}

// Facts: SOURCE.md beside each recording.
describe.skipIf(!shared.present)(`real recordings ${shared.present ? '' : shared.why}`, () => {
  it('reads a road trip under 197 preamble lines and three head rows', async () => {
    const t = await table('jrc-rde-sample/Sample_Data_Exchange_File.csv');
    expect(t.dialect).toMatchObject({ headerLine: 198, delimiter: ',', decimal: '.', timeFormat: 'seconds' });
    expect([t.rows, t.columns.length, t.time[0], t.time[6427]]).toEqual([6428, 52, 0, 6427]);
    const speeds = t.columns.filter((c) => c.label === 'Vehicle speed');
    expect(speeds.map((c) => [c.sourceCell, c.unitCell, c.filled])).toEqual([
      ['Sensor', '[km/h]', 0],
      ['GPS', '[km/h]', 6428],
      ['ECU', '[km/h]', 6428],
    ]);
    const coolant = t.columns.find((c) => c.label.toLowerCase().includes('coolant'))!;
    expect(coolant.unitCell).toBe('[K]');
    expect(coolant.values[0]).toBe(290.15);
    expect(coolant.values.findIndex((k) => k - 273.15 >= 80)).toBe(552);
    let metres = 0;
    for (const v of speeds[2]!.values) metres += v / 3.6;
    expect(metres / 1000).toBeCloseTo(90.553, 2);
    const torque = t.columns.filter((c) => c.values.some((v) => v === 1e10));
    expect(torque[0]!.values.filter((v) => v === 1e10)).toHaveLength(46);
  });

  it.each([
    ['drive5', 627, 304, 27],
    ['live20', 2407, 1179, 27],
    ['live6', 2287, 1245, 24],
    ['idle1', 1213, 590, 27],
  ])('reads %s with its coarse clock and uneven widths', async (name, rows, lastTick, filledColumns) => {
    const t = await table(`carobd/${name}.csv`);
    expect([t.rows, t.columns.length, t.timeColumn]).toEqual([rows, 27, 0]);
    expect(t.columns[0]!.label).toBe('ENGINE_RUN_TINE ()');
    expect(t.columns[0]!.values[rows - 1]).toBe(lastTick);
    // The rows of the last tick lie inside it: the clock ticks every 2 s at most here.
    expect(t.time[rows - 1]! - lastTick).toBeGreaterThanOrEqual(0);
    expect(t.time[rows - 1]! - lastTick).toBeLessThan(2);
    expect(t.columns.filter((c) => c.filled > 0)).toHaveLength(filledColumns);
    const coarse = t.problems.filter((p) => p.code === 'time-coarse');
    expect(coarse).toHaveLength(1);
    const repeats = t.columns[0]!.values.filter((v, i, all) => i > 0 && v === all[i - 1]).length;
    expect(coarse[0]!.count).toBe(repeats);
    expect(t.problems.some((p) => p.code === 'short-rows')).toBe(name === 'live6');
  });

  it('sets the cut last cell of a file aside', async () => {
    const t = await table('carobd/idle1.csv');
    expect(t.problems.find((p) => p.code === 'cut-row')).toMatchObject({ line: 1214, column: 17 });
    expect(t.columns[15]!.values[1212]).toBe(101);
    expect(t.columns[16]!.values[1212]).toBeNaN();
  });

  it.each([
    ['2007-08-20', 2686, 258],
    ['2007-08-21', 4212, 80],
  ])('finds the gaps of the day file %s', async (day, rows, gap) => {
    const t = await table(`nrel-tsdc-cmap/4033363_3_${day}.csv`);
    expect([t.rows, t.timeColumn, t.dialect.timeFormat]).toEqual([rows, 0, 'date-time']);
    const stamp = t.columns[1]!.values;
    const gaps = t.problems.filter((p) => p.code === 'time-gap').map((p) => p.to! - p.from!);
    expect(gaps).toContain(gap);
    // The file's own seconds say the same, up to its wrap at midnight of another zone.
    const turn = stamp.findIndex((v, i) => i > 0 && v < stamp[i - 1]!);
    for (let i = 1; i < (turn < 0 ? rows : turn); i++)
      expect(t.time[i]! - t.time[i - 1]!).toBe(stamp[i]! - stamp[i - 1]!);
  });

  it.each([
    ['udds', 1370],
    ['hwfet', 766],
    ['us06', 601],
    ['wltc_3a', 1801],
    ['wltc_3b', 1801],
  ])('reads the driving schedule %s', async (name, rows) => {
    const t = await table(`nrel-fastsim-cycles/${name}.csv`);
    expect([t.rows, t.time[rows - 1], t.columns[0]!.label]).toEqual([rows, rows - 1, 'cycSecs']);
    expect(t.problems).toEqual([]);
  });

  it('reads text states and a name with commas in quotes', async () => {
    const t = await table('jrc-wltp-gearshift/case1_derived.csv');
    expect(t.columns.map((c) => c.label)).toContain('n = ndv*v, idle when not in gear (derived) [rpm]');
    expect(t.columns[2]!.texts).toContain('MANUAL-3');
    expect(t.rows).toBe(1801);
  });

  it('asks for names and for the rate where a file has none, and takes them', async () => {
    const bare = sharedBytes('data/jrc-wltp-cycles/class3-1-Low.csv');
    const refused = await readTable(bare, { name: 'low' });
    expect(refused.ok ? '' : refused.fault.code).toBe('no-header');
    const t = await table('jrc-wltp-cycles/class3-1-Low.csv', {
      map: { time: { column: '#1', format: 'seconds' }, columns: { '#2': { channel: 'vehicleSpeed', unit: 'km/h' } } },
    });
    expect([t.rows, t.columns.length, t.time[589]]).toEqual([590, 2, 589]);
    const pairs = await readTable(sharedBytes('data/jrc-vn-gears/VNreal.csv'), { name: 'pairs' });
    expect(pairs.ok ? '' : pairs.fault.code).toBe('no-time');
    const v = await table('jrc-vn-gears/VNreal.csv', { rate: 1 });
    expect([v.columns.map((c) => c.label).join(), v.rows, v.dialect.headerLine]).toEqual(['V,N,V,N,N,V,V,N', 1821, 5]);
  });
});
