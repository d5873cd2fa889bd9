export default ({ data, parentElement, setTriggerValue }) => {
  const plan = parentElement.querySelector('.plan')
  if (plan.drawn !== data.svg) { plan.innerHTML = data.svg; plan.drawn = data.svg }
  plan.setAttribute('aria-label', data.alt)
  plan.onclick = (event) => {
    const well = event.target.closest('[data-cylinder]')
    if (well) setTriggerValue('pick', Number(well.dataset.cylinder))
  }
  let typed = '', last = 0
  const key = (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !/^[0-9n]$/.test(event.key)) return
    const where = event.composedPath()[0]
    if (where instanceof HTMLElement && (where.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(where.tagName))) return
    if (event.key === 'n') return setTriggerValue('pick', data.picked % data.count + 1)
    typed = Date.now() - last < 700 ? typed + event.key : event.key; last = Date.now()
    const number = [typed, event.key].map(Number).find((n) => n >= 1 && n <= data.count)
    if (number) setTriggerValue('pick', number)
  }
  document.addEventListener('keydown', key)
  return () => document.removeEventListener('keydown', key)
}
