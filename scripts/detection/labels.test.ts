import { describe, expect, it } from 'vitest';
import { recogniseColumn } from '../../packages/core/src/channels/index.js';
import { LABELS } from '../simulate/labels.js';

describe('labels of simulated recordings', () => {
  // A heading that the reader does not know would turn every fault on that channel into a miss of the rule.
  it.each(Object.entries(LABELS))('%s is known by its long and its short name', (id, names) => {
    const wanted = id.replace(/#$/, '');
    for (const name of names) {
      const found = recogniseColumn({ label: name.replace('#', '2') });
      expect(found.channel?.startsWith(wanted), `${name}: ${found.channel} ${found.reason}`).toBe(true);
    }
  });
});
