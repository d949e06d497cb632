package web

import (
	"fmt"

	"lentic/collector/aquarium"
)

// scene is the sites and people of one accepted configuration. It never
// changes; a request works with the one it began with.
type scene struct {
	sites  []aquarium.Site
	people map[aquarium.PersonID]string // names
}

func newScene(sites []aquarium.Site, people []aquarium.Person) *scene {
	c := &scene{sites: sites, people: map[aquarium.PersonID]string{}}
	for _, s := range sites {
		for _, p := range s.Contacts {
			c.people[p.ID] = p.Name
		}
	}
	for _, p := range people {
		c.people[p.ID] = p.Name
	}
	return c
}

// person is somebody's name, as far as known.
func (c *scene) person(id aquarium.PersonID) string {
	if name := c.people[id]; name != "" {
		return name
	}
	return string(id)
}

// site is the site of that id, nil when there is none.
func (c *scene) site(id aquarium.SiteID) *aquarium.Site {
	for i := range c.sites {
		if c.sites[i].ID == id {
			return &c.sites[i]
		}
	}
	return nil
}

// seen lists the sites a visitor may know of.
func (c *scene) seen(v visitor) []*aquarium.Site {
	var out []*aquarium.Site
	for i := range c.sites {
		if v.Sees(c.sites[i].ID) {
			out = append(out, &c.sites[i])
		}
	}
	return out
}

// find is a site the visitor may know of. One that exists and is not for the
// visitor's eyes is answered as one that does not exist.
func (c *scene) find(v visitor, id string) (*aquarium.Site, error) {
	s := c.site(aquarium.SiteID(id))
	if s == nil || !v.Sees(s.ID) {
		return nil, fmt.Errorf("site %q: %w", id, aquarium.ErrUnknownSite)
	}
	return s, nil
}

func (c *scene) findTank(v visitor, site, tank string) (*aquarium.Site, *aquarium.Tank, error) {
	s, err := c.find(v, site)
	if err != nil {
		return nil, nil, err
	}
	t := s.Tank(aquarium.TankID(tank))
	if t == nil {
		return nil, nil, fmt.Errorf("tank %q of site %q: %w", tank, site, aquarium.ErrUnknownTank)
	}
	return s, t, nil
}
