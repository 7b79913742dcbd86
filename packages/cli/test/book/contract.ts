import type { LogbookNote } from '@telltale/core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Access, Book } from '../../src/book/book.js';
import type { Opening } from '../../src/book/patience.js';
import { drive, hashed } from './drives.js';

/** A store as the tests open it: each name is a book of its own. */
export interface Store {
  open(name: string, access: Access, opening?: Opening): Promise<Book>;
  /** Holds a book as another process does that writes it and comes to no end. @returns lets it go */
  hold(name: string): Promise<() => Promise<void>>;
}

const note: LogbookNote = { car: 'saloon', date: '2021-02-03', distance: 44_000, kind: 'oil', text: 'Öl, 5W-40' };

/** What every store has to do; the same suite for all of them. */
export function bookContract(what: string, store: () => Store): void {
  describe(what, () => {
    let book: Book;
    let count = 0;
    const fresh = async (): Promise<Book> => store().open(`contract ${++count}`, 'create');
    const using = async (act: (book: Book) => Promise<void>): Promise<void> => {
      const own = await fresh();
      try {
        await act(own);
      } finally {
        await own.close();
      }
    };
    beforeAll(async () => {
      book = await fresh();
    });
    afterAll(() => book?.close());

    it('begins empty, with a key of its own', async () => {
      expect(await book.cars()).toEqual([]);
      expect(await book.drives('saloon')).toEqual([]);
      expect(await book.notes('saloon')).toEqual([]);
      expect(await book.profile('saloon')).toBeUndefined();
      expect(await book.secret()).toMatch(/^[0-9a-f]{64}$/);
      const other = await fresh();
      expect(await other.secret()).not.toBe(await book.secret());
      await other.close();
    });

    it('gives back what was put in, to the last digit, oldest first', () =>
      using(async (own) => {
        const drives = [5, 0, 13, 2].map((n) => drive(n));
        expect(await own.add(drives)).toHaveLength(4);
        const sorted = [...drives].sort((a, b) => (a.recordedAt < b.recordedAt ? -1 : 1));
        expect(await own.drives('saloon')).toEqual(sorted);
        expect(await own.cars()).toEqual([
          { car: 'saloon', drives: 4, notes: 0, first: '2020-01-03T10:00:00', last: '2021-02-03T10:00:03' },
        ]);
      }));

    it('keeps numbers that text would round, and none at all', () =>
      using(async (own) => {
        const values = [1 / 3, -0, 5e-324, 1.7976931348623157e308, 0.1 + 0.2, 123456789.12345679];
        const measures = values.map((value, i) => ({
          id: `m${i}`,
          value,
          standardError: i % 2 === 0 ? null : Math.abs(value),
          samples: null,
          unit: '1',
        }));
        await own.add([
          drive(1, 'saloon', { measures, distance: null, engineHours: null }),
          drive(2, 'saloon', { measures: [] }),
        ]);
        const [first, second] = await own.drives('saloon');
        expect(first!.measures.map(({ value }) => value + 0)).toEqual(values.map((value) => value + 0));
        expect(first!.measures).toHaveLength(6);
        expect(first!.distance).toBeNull();
        expect(second!.measures).toEqual([]);
      }));

    it('counts the same recording once, whatever is said of it the second time', () =>
      using(async (own) => {
        const one = drive(1);
        expect(await own.add([one])).toEqual([one.hash]);
        const two = drive(2);
        expect(await own.add([{ ...one, distance: 1 }, two, two])).toEqual([two.hash]);
        expect(await own.add([{ ...one, car: 'other' }])).toEqual([]);
        expect(await own.drives('saloon')).toEqual([one, two]);
        expect(await own.known([one.hash, two.hash, hashed('none')])).toEqual(
          new Map([
            [one.hash, 'saloon'],
            [two.hash, 'saloon'],
          ]),
        );
        expect(await own.known([])).toEqual(new Map());
      }));

    it('keeps cars apart', () =>
      using(async (own) => {
        await own.add([drive(1, 'a'), drive(1, 'b'), drive(2, 'b')]);
        expect((await own.drives('a')).map(({ car }) => car)).toEqual(['a']);
        expect((await own.cars()).map(({ car, drives }) => [car, drives])).toEqual([
          ['a', 1],
          ['b', 2],
        ]);
      }));

    it('orders cars and drives by code units, in every language', () =>
      using(async (own) => {
        const labels = ['b', 'ä', 'B', 'a', 'Z', '10', '9'];
        for (const label of labels) await own.add([drive(1, label)]);
        expect((await own.cars()).map(({ car }) => car)).toEqual([...labels].sort());
      }));

    it('adds all drives of a call or none', () =>
      using(async (own) => {
        const bad = drive(2, 'saloon', { recordedAt: undefined as unknown as string });
        await expect(own.add([drive(1), bad])).rejects.toThrow();
        expect(await own.drives('saloon')).toEqual([]);
        expect(await own.add([drive(1)])).toHaveLength(1);
      }));

    it('keeps notes, each once, and takes them back', () =>
      using(async (own) => {
        expect(await own.note(note)).toBe(true);
        expect(await own.note(note)).toBe(false);
        expect(await own.note({ ...note, date: '2020-01-01', kind: 'tyres', distance: null, text: '' })).toBe(true);
        expect(await own.notes('saloon')).toEqual([
          { ...note, date: '2020-01-01', kind: 'tyres', distance: null, text: '' },
          note,
        ]);
        expect((await own.cars())[0]).toEqual({ car: 'saloon', drives: 0, notes: 2, first: null, last: null });
        expect(await own.removeNote(note)).toBe(true);
        expect(await own.removeNote(note)).toBe(false);
        expect(await own.notes('saloon')).toHaveLength(1);
      }));

    it('keeps the profile that was given last', () =>
      using(async (own) => {
        await own.setProfile('saloon', '{"id":"saloon"}');
        await own.setProfile('saloon', '{"id":"saloon","x":[1,"ü"]}');
        expect(await own.profile('saloon')).toBe('{"id":"saloon","x":[1,"ü"]}');
        expect(await own.profile('other')).toBeUndefined();
      }));

    it('keeps a computed report until anything of the car changes', () =>
      using(async (own) => {
        expect(await own.revision('saloon')).toBe(0);
        const keeps = async (): Promise<void> =>
          own.keepReport('saloon', await own.revision('saloon'), 'p 1', '{"ä":1}');
        const kept = () => own.report('saloon', 'p 1');
        await keeps();
        expect(await kept()).toBeUndefined();
        await own.add([drive(1)]);
        const changes: (() => Promise<unknown>)[] = [
          () => own.add([drive(2)]),
          () => own.note(note),
          () => own.removeNote(note),
          () => own.setProfile('saloon', '{}'),
          () => own.forget({ car: 'saloon', hash: drive(2).hash }),
        ];
        for (const change of changes) {
          await keeps();
          expect(await kept()).toBe('{"ä":1}');
          expect(await own.report('saloon', 'p 2')).toBeUndefined();
          expect(await own.report('other', 'p 1')).toBeUndefined();
          const before = await own.revision('saloon');
          await change();
          expect(await own.revision('saloon')).toBeGreaterThan(before);
          expect(await kept()).toBeUndefined();
          // One that was computed before the change comes too late.
          await own.keepReport('saloon', before, 'p 1', '{"late":1}');
          expect(await kept()).toBeUndefined();
        }
        await keeps();
        // What changes nothing leaves it: a drive and a note that are known, a drive of another car.
        await own.add([drive(1), drive(1, 'other')]);
        expect(await kept()).toBe('{"ä":1}');
        await own.forget({ car: 'saloon' });
        expect(await kept()).toBeUndefined();
      }));

    it('forgets a drive, or a car with all that is kept of it', () =>
      using(async (own) => {
        await own.add([drive(1), drive(2), drive(1, 'other')]);
        await own.note(note);
        expect(await own.forget({ car: 'other', hash: drive(1).hash })).toEqual({ drives: 0, notes: 0 });
        expect(await own.forget({ car: 'saloon', hash: drive(1).hash })).toEqual({ drives: 1, notes: 0 });
        expect(await own.drives('saloon')).toEqual([drive(2)]);
        expect(await own.forget({ car: 'saloon' })).toEqual({ drives: 1, notes: 1 });
        expect(await own.forget({ car: 'saloon' })).toEqual({ drives: 0, notes: 0 });
        expect((await own.cars()).map(({ car }) => car)).toEqual(['other']);
        // What was forgotten is unknown again.
        expect(await own.add([drive(1)])).toHaveLength(1);
      }));

    it('treats texts as data', () =>
      using(async (own) => {
        const label = `'; DROP TABLE drive; -- "x" \\ %_`;
        await own.add([drive(1, label)]);
        expect(await own.drives(label)).toEqual([drive(1, label)]);
        expect(await own.forget({ car: '%' })).toEqual({ drives: 0, notes: 0 });
      }));

    it('keeps what was written when it is closed and opened again', async () => {
      const name = `again ${++count}`;
      const first = await store().open(name, 'create');
      await first.add([drive(1)]);
      const secret = await first.secret();
      await first.close();
      for (const access of ['read', 'write', 'create'] as const) {
        const own = await store().open(name, access);
        expect(await own.drives('saloon')).toEqual([drive(1)]);
        expect(await own.secret()).toBe(secret);
        await own.close();
      }
    });

    it('says that there is no book where reading finds none', async () => {
      await expect(store().open(`none ${++count}`, 'read')).rejects.toMatchObject({ code: 'no-book', exit: 2 });
      await expect(store().open(`none ${++count}`, 'write')).rejects.toMatchObject({ code: 'no-book' });
    });

    it('lets readers read while another process writes, and writers wait for it, which is told', async () => {
      const name = `held ${++count}`;
      const first = await store().open(name, 'create');
      await first.add([drive(1)]);
      await first.close();
      const release = await store().hold(name);
      let told = 0;
      const reader = await store().open(name, 'read', { patience: 0, onWait: () => told++ });
      expect(await reader.cars()).toHaveLength(1);
      expect(await reader.drives('saloon')).toEqual([drive(1)]);
      await reader.close();
      const hasty = await store().open(name, 'write', { patience: 0, onWait: () => told++ });
      await expect(hasty.add([drive(2)])).rejects.toMatchObject({ code: 'book-busy' });
      await hasty.close();
      expect(told).toBe(0);
      const patient = await store().open(name, 'write', { patience: 2200, onWait: () => told++ });
      await expect(patient.add([drive(2)])).rejects.toMatchObject({ code: 'book-busy' });
      expect(told).toBe(1);
      await expect(patient.add([drive(2)])).rejects.toMatchObject({ code: 'book-busy' });
      expect(told).toBe(1);
      const late = patient.add([drive(3)]);
      await release();
      expect(await late).toHaveLength(1);
      expect(await patient.drives('saloon')).toEqual([drive(1), drive(3)]);
      await patient.close();
    });

    it('lets two work at once', async () => {
      const name = `both ${++count}`;
      const books = await Promise.all([0, 1, 2, 3].map(() => store().open(name, 'create')));
      const numbers = Array.from({ length: 40 }, (_, n) => n);
      const added = await Promise.all(
        books.map(async (own, k) => {
          let sum = 0;
          for (let i = 0; i < numbers.length; i += 5) {
            // Each begins elsewhere, so that they meet.
            const from = (i + 10 * k) % numbers.length;
            sum += (await own.add(numbers.slice(from, from + 5).map((n) => drive(n)))).length;
          }
          return sum;
        }),
      );
      expect(added.reduce((a, b) => a + b, 0)).toBe(numbers.length);
      expect(await books[0]!.drives('saloon')).toHaveLength(numbers.length);
      for (const own of books) await own.close();
    });
  });
}
