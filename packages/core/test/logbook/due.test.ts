import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { addDays, addMonths, dayOf, daysBetween } from '../../src/logbook/calendar-date.js';
import { dueFor, dueList } from '../../src/logbook/due.js';
import type { LogbookEntry } from '../../src/logbook/entry.js';

const AGEING = 'transmission.over-temperature.ageingPerHour';

function entry(
  recordedAt: string,
  distance: number | null,
  ageing: number | null,
  more: Partial<LogbookEntry> = {},
): LogbookEntry {
  return {
    hash: recordedAt,
    car: 'saloon',
    recordedAt,
    distance,
    engineHours: null,
    measures: ageing === null ? [] : [{ id: AGEING, value: ageing, standardError: null, samples: null, unit: '1' }],
    covariates: { ambientTemperature: null, load: null, altitude: null, fuel: null },
    summary: { level: 'sound', coverage: 0.8, index: { low: 80, high: 100 }, findings: [], unproven: ['engine.knock'] },
    ...more,
  };
}
const due = (
  entries: readonly LogbookEntry[],
  notes: Parameters<typeof dueFor>[0]['notes'] = [],
  asOf = '2026-06-01',
  drifting: string[] = [],
) => dueFor({ car: 'saloon', entries, notes, asOf, drifting });

describe('dates', () => {
  it('go over months of every length', () => {
    expect(addMonths('2024-01-31T10:00:00', 1)).toBe('2024-02-29');
    expect(addMonths('2023-01-31', 1)).toBe('2023-02-28');
    expect(addMonths('2023-12-15', 1)).toBe('2024-01-15');
    expect(addMonths('2023-03-31', 13)).toBe('2024-04-30');
    expect(addDays('2024-02-28', 2)).toBe('2024-03-01');
    expect(daysBetween('2023-03-01', '2024-03-01')).toBe(366);
    // 2000-01-01 is day 10 957 of the Unix epoch (POSIX.1-2017, 4.16 Seconds Since the Epoch: 946 684 800 s).
    expect(dayOf('2000-01-01')).toBe(946_684_800 / 86_400);
    expect(dayOf('2000-01-01T06:00:00')).toBe(10_957.25);
    for (let n = 0; n < 60_000; n += 371) expect(dayOf(addDays('1970-01-01', n))).toBe(n);
  });
});

describe('life of the transmission fluid', () => {
  it('follows the trade chart where the fluid stands at one temperature', () => {
    // ../shared/validation/atf-life.csv: trade chart of fluid life, seen in three public copies; the factor is that of the
    // rule (halved life per 11.1 K), which follows the chart within 11 % from 79 to 157 °C.
    const chart = fileURLToPath(new URL('../../../../../shared/validation/atf-life.csv', import.meta.url));
    let rows: string[][];
    try {
      rows = readFileSync(chart, 'utf8')
        .trim()
        .split('\n')
        .slice(1)
        .map((line) => line.split(','));
    } catch {
      console.warn(`skipped: ${chart} is not here`);
      return;
    }
    for (const [, celsius, , km] of rows) {
      if (Number(celsius) > 158) continue;
      const factor = 2 ** ((Number(celsius) - 79.4) / 11.1);
      const { fluid } = due([entry('2026-01-01', 0, factor), entry('2026-02-01', Number(km), factor)]);
      expect(fluid!.used!.value, `${celsius} °C`).toBeGreaterThan(0.87);
      expect(fluid!.used!.value, `${celsius} °C`).toBeLessThan(1.13);
    }
  });

  it('counts from the change that is noted, with the interval of the drives', () => {
    const drives = [
      entry('2025-01-01', 10_000, 50),
      ...[2, 3, 4].map((m) => entry(`2026-0${m}-01`, 50_000 + 1000 * m, m)),
    ];
    const change = { car: 'saloon', date: '2026-01-15', distance: 50_000, kind: 'fluid' as const, text: '' };
    const { fluid } = due(drives, [change, { ...change, date: '2020-01-01' }]);
    expect(fluid).toMatchObject({ since: '2026-01-15', distance: 4000, factor: 3, drives: 3 });
    expect(fluid!.used!.value).toBeCloseTo((3 * 4000) / 160_934, 9);
    // Mean 3, standard deviation 1, n = 3: 4.303 / sqrt(3) = 2.484 (Student's t, 2 degrees of freedom, NIST 1.3.6.7.2).
    expect(fluid!.used!.high / fluid!.used!.value).toBeCloseTo((3 + 2.484) / 3, 3);
    expect(fluid!.left).toBeCloseTo(160_934 / 3 - 4000, 6);
    expect(due(drives).fluid!.since).toBeNull();
  });

  it('says what it does not know', () => {
    expect(due([entry('2026-01-01', 1000, null)]).fluid).toBeNull();
    expect(due([]).fluid).toBeNull();
    const one = due([entry('2026-01-01', null, 2)]).fluid!;
    expect(one).toMatchObject({ distance: null, used: null, left: null, drives: 1 });
    // One drive tells nothing of the scatter.
    const single = due(
      [entry('2026-01-01', 1000, 2)],
      [{ car: '', date: '2025-12-01', distance: 0, kind: 'fluid', text: '' }],
    ).fluid!;
    expect(single.used).toMatchObject({ low: 0, high: Number.POSITIVE_INFINITY });
    // An odometer that went backwards is no distance.
    expect(due([entry('2026-01-01', 2000, 2), entry('2026-02-01', 1000, 2)]).fluid!.used).toBeNull();
  });
});

describe('next recording', () => {
  it('is a month after the last, sooner where something drifts', () => {
    const drives = [entry('2026-04-10T08:00:00', null, null), entry('2026-05-31T08:00:00', null, null)];
    expect(due(drives).next).toMatchObject({ date: '2026-06-30', overdue: false, open: ['engine.knock'] });
    expect(due(drives, [], '2026-06-30').next.overdue).toBe(false);
    expect(due(drives, [], '2026-07-01').next.overdue).toBe(true);
    expect(due(drives, [], '2026-06-01', ['idle trim']).next).toMatchObject({ date: '2026-06-14' });
    expect(due([]).next).toMatchObject({ date: '2026-06-01', overdue: false });
  });

  it('names the phases that show what the last drive left open', () => {
    const { phases } = due([entry('2026-05-01', null, null)]).next;
    expect(phases.length).toBeGreaterThan(0);
    expect(phases.every(({ minutes }) => minutes > 0)).toBe(true);
    const shown = entry('2026-05-01', null, null);
    expect(due([{ ...shown, summary: { ...shown.summary, unproven: [] } }]).next.phases).toEqual([]);
  });

  it('lists the soonest first', () => {
    const list = dueList('2026-06-01', [
      dueFor({ car: 'b', entries: [entry('2026-05-20', null, null)], notes: [], asOf: '2026-06-01' }),
      dueFor({ car: 'c', entries: [entry('2026-03-20', null, null)], notes: [], asOf: '2026-06-01' }),
      dueFor({ car: 'a', entries: [entry('2026-05-20', null, null)], notes: [], asOf: '2026-06-01' }),
    ]);
    expect(list.cars.map(({ car }) => car)).toEqual(['c', 'a', 'b']);
  });
});
