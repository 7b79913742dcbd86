import { writeFileSync } from 'node:fs';
import { run } from '../../src/program.js';

/** Runs one command line, 90 columns wide. */
export async function telltale(...argv: string[]): Promise<{ code: number; out: string; err: string }> {
  let [out, err] = ['', ''];
  const terminal = {
    out: (text: string) => (out += text),
    err: (text: string) => (err += text),
    width: 90,
    color: false,
    live: false,
  };
  try {
    return { code: await run(argv, terminal as never, '0.0.0'), out, err };
  } catch (error) {
    const user = error as { exit?: number; code?: string; message: string };
    return { code: user.exit ?? 4, out, err: `${err}${user.code}: ${user.message}` };
  }
}

/** A short warm drive that is different for each n, with a date where asked. */
export function writeLog(path: string, n: number, date?: string): string {
  const rows = Array.from({ length: 600 }, (_, i) => {
    const t = i / 5;
    const stamp =
      date === undefined
        ? t.toFixed(1)
        : `${date}T10:${String(Math.floor(t / 60)).padStart(2, '0')}:${(t % 60).toFixed(1).padStart(4, '0')}`;
    return [
      stamp,
      (750 + ((i * 7 + n) % 11)).toFixed(0),
      '0',
      '90',
      (n / 10 + ((i * 3) % 5) / 10).toFixed(2),
      '0.4',
      '0',
    ].join(',');
  });
  const head =
    'time,Engine speed [rpm],Vehicle speed [km/h],Coolant temperature [degC],Short term fuel trim bank 1 [%],Long term fuel trim bank 1 [%],Accelerator pedal [%]';
  writeFileSync(path, `${head}\n${rows.join('\n')}\n`);
  return path;
}
