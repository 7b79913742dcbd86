// Kills writers of the logbook at random moments, and looks whether anything was lost.
// Usage: node scripts/run.mjs scripts/kill/main.ts [--kills N] [--seed S] [--store sqlite|postgres|both]
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { noServer, startServer } from '../../packages/cli/test/book/server.js';
import { bundledWriter, checkout } from './bundle.js';
import { seeded } from './random.js';
import { killTrial, type Trial } from './trial.js';

const { values } = parseArgs({
  options: {
    kills: { type: 'string', default: '200' },
    seed: { type: 'string', default: '1' },
    store: { type: 'string', default: 'both' },
  },
});
const [kills, seed] = [Number(values.kills), Number(values.seed)];
if (!Number.isInteger(kills) || kills < 1 || !Number.isInteger(seed)) throw new Error('expected --kills N --seed S');

const folder = mkdtempSync(join(tmpdir(), 'telltale-kill-'));
const script = await bundledWriter(checkout(import.meta.url));
try {
  if (values.store !== 'postgres') await report('SQLite', { book: join(folder, 'book.sqlite') });
  if (values.store !== 'sqlite') {
    const reason = noServer();
    if (reason !== undefined) console.log(`PostgreSQL: not tried, ${reason}`);
    else {
      const server = await startServer();
      // Whoever ends this run ends its server too.
      for (const signal of ['SIGINT', 'SIGTERM'] as const)
        process.once(signal, () => {
          server.stop();
          rmSync(folder, { recursive: true, force: true });
          process.exit(130);
        });
      try {
        server.create('killed');
        await report(server.version, { book: server.url('killed'), breakServer: () => server.breakOff() });
      } finally {
        server.stop();
      }
    }
  }
} finally {
  rmSync(folder, { recursive: true, force: true });
  rmSync(script, { force: true });
}

async function report(name: string, where: Pick<Trial, 'book' | 'breakServer'>): Promise<void> {
  const result = await killTrial({
    ...where,
    kills,
    random: seeded(seed),
    writer: [process.execPath, script],
    onKill: (done, kept) => {
      if (done % 25 === 0) console.error(`${name}: ${done} kills, ${kept} drives kept`);
    },
  });
  console.log(
    `${name}: ${result.kills} kills (${result.midWrite} while drives were being written), ${result.named} drives named as kept, ${result.kept} in the book, ${result.faults.length} faults`,
  );
  for (const fault of result.faults) console.log(`  ${fault}`);
  if (result.faults.length > 0) process.exitCode = 1;
}
