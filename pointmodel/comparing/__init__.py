"""Several nights of one mount side by side: what is its own, what is new each night, what changed.

The way through: `brief` (what one night's pairs alone say of the six terms) → `pooling` (the noise
of all nights) → `blocks` (what is assumed of terms from night to night) → `evidence` (how well an
assumption fits all nights, and what follows) → `kinds` (all assumptions weighed) → `changes`,
`spread`, `carry_over` and `words` (what is said of it). `results` holds what comes out, `season`
briefs many logs on all cores, `keep` writes a profile. The door is `../nightcompare.py`.
"""
