import { describe, expect, it } from 'vitest';
import { buildRecording } from '../../src/recording/build.js';
import { tableOf } from './read.js';

const log = (head: string, stamps: readonly string[]): string =>
  `${head},Engine speed [rpm]\n${stamps.map((stamp, i) => `${stamp},${800 + i}`).join('\n')}\n`;
const iso = async (text: string): Promise<string | undefined> => {
  const { startedAt } = await tableOf(text);
  return startedAt === undefined ? undefined : new Date(1000 * startedAt).toISOString();
};

describe('when a recording began, by its own stamps', () => {
  it('is known where they hold a date, in whatever form', async () => {
    const expected = '2024-03-05T10:20:30.000Z';
    expect(await iso(log('time', ['2024-03-05T10:20:30', '2024-03-05T10:20:31', '2024-03-05T10:20:32']))).toBe(
      expected,
    );
    expect(await iso(log('time', ['05.03.2024 10:20:30', '05.03.2024 10:20:31', '05.03.2024 10:20:32']))).toBe(
      expected,
    );
    const epoch = Date.parse(expected) / 1000;
    expect(
      await iso(
        log(
          'time',
          [0, 1, 2].map((i) => String(epoch + i)),
        ),
      ),
    ).toBe(expected);
    expect(
      await iso(
        log(
          'time',
          [0, 1, 2].map((i) => String(1000 * (epoch + i))),
        ),
      ),
    ).toBe(expected);
    const split =
      'Date,Time,Engine speed [rpm]\n2024-03-05,10:20:30,800\n2024-03-05,10:20:31,810\n2024-03-05,10:20:32,820\n';
    expect(await iso(split)).toBe(expected);
  });

  it('takes day serials from the last day of 1899', async () => {
    // 45 356 is 2024-03-05 in the 1900 date system (ECMA-376 part 1, 18.17.4.1); a quarter of a day is 06:00.
    const serials = [0, 1, 2, 3].map((i) => (45_356.25 + i / 86_400).toFixed(9));
    const found = await iso(log('time', serials));
    expect(found?.slice(0, 16)).toMatch(/^2024-03-05T0(6:00|5:59)$/);
  });

  it('is not known from seconds or a clock alone, and is no part of what is assessed', async () => {
    expect(await iso(log('time [s]', ['0', '1', '2', '3']))).toBeUndefined();
    expect(await iso(log('time', ['10:20:30', '10:20:31', '10:20:32']))).toBeUndefined();
    expect(await iso(log('time [s]', ['123456', '123457', '123458']))).toBeUndefined();
    const built = buildRecording(await tableOf(log('time', ['2024-03-05T10:20:30', '2024-03-05T10:20:31'])), {});
    expect(built.ok && built.recording.startedAt).toBe(Date.parse('2024-03-05T10:20:30Z') / 1000);
    expect(built.ok && built.recording.time[0]).toBe(0);
  });
});
