export default ({ data, parentElement, setTriggerValue }) => {
  const row = parentElement.querySelector('.row')
  if (row.drawn !== data.cards) { row.innerHTML = data.cards; row.drawn = data.cards }
  row.setAttribute('aria-label', data.label)
  const mark = (picked) => row.querySelectorAll('button').forEach((card) => card.setAttribute('aria-pressed', Number(card.dataset.cylinder) === picked))
  mark(data.picked)
  row.onclick = (event) => {
    const card = event.target.closest('button')
    if (!card) return
    mark(Number(card.dataset.cylinder))
    setTriggerValue('pick', Number(card.dataset.cylinder))
    if (event.detail) lead()
  }
}

const lead = () => {
  const bench = document.querySelector('.st-key-drawn'), calm = matchMedia('(prefers-reduced-motion: reduce)').matches
  if (bench && bench.getBoundingClientRect().bottom < 0) bench.scrollIntoView({ behavior: calm ? 'auto' : 'smooth' })
}
