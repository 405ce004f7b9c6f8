"""What was measured, and what it makes of what is believed.

Prior draws are scores: standard normal numbers, one for each physical part and quantity, and one
for the air, the ground and the load of each day of a reading, shape (n, d): `prior.prior_of` with
any readings, those of the study or such as could be taken (a `Measurement` without a value), and
`Prior.draw`. The first columns are those that the study draws itself, so `Prior.inputs` and
`judgement.uncertainty.judged.judged` judge the same draws: `Judged.musts_hold` and `Judged.holds`
are arrays of n truth values. `readings.predicted` predicts every reading for the draws, shape
(n, m); `Prior.covariance_at` has what instruments and model add. `update.update` gives draws from
the posterior with weights and the effective size, `Updated.resampled` draws of equal weight. A
contradiction is looked for before: `conflict.surprise`.
"""
